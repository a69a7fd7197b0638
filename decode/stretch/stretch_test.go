package stretch

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

const rate = 44100

// tone is silence with a sine from one time to another, faded over 2 ms.
func tone(hz, seconds, from, to float64) []float64 {
	x := make([]float64, int(seconds*rate))
	for i := range x {
		t := float64(i) / rate
		fade := min(max(min(t-from, to-t)/0.002, 0), 1)
		x[i] = 0.5 * fade * math.Sin(2*math.Pi*hz*t)
	}
	return x
}

// frequency in Hz from the first to the last rising zero crossing, at a fraction
// of a sample.
func frequency(x []float64) float64 {
	first, last, n := -1.0, -1.0, 0
	for i := 1; i < len(x); i++ {
		if x[i-1] < 0 && x[i] >= 0 {
			at := float64(i) - x[i]/(x[i]-x[i-1])
			if first < 0 {
				first = at
			} else {
				n++
			}
			last = at
		}
	}
	return float64(n) * rate / (last - first)
}

// loud is where the magnitude is first and last above half of the greatest, in
// seconds.
func loud(x []float64) (first, last float64) {
	top := 0.0
	for _, v := range x {
		top = max(top, math.Abs(v))
	}
	first = -1
	for i, v := range x {
		if math.Abs(v) > top/2 {
			if first < 0 {
				first = float64(i) / rate
			}
			last = float64(i) / rate
		}
	}
	return first, last
}

// sharpest is the largest second difference, which a click makes large.
func sharpest(x []float64) float64 {
	top := 0.0
	for i := 2; i < len(x); i++ {
		top = max(top, math.Abs(x[i]-2*x[i-1]+x[i-2]))
	}
	return top
}

// Tones keep their times, which the speed divides, and their frequencies, which the cents
// shift, and get no clicks.
func TestTones(t *testing.T) { checkTones(t, []float64{0.5, 0.75, 1.25}, []float64{196, 1174.7}) }

func checkTones(t *testing.T, speeds, frequencies []float64) {
	var worstCents, worstEnd float64
	for _, speed := range speeds {
		for _, hz := range frequencies {
			for _, cents := range []float64{0, 43, -80} {
				x := tone(hz, 3, 0.613, 2.291)
				from, to := loud(x)
				y := Stretch([][]float64{x}, rate, speed, cents)[0]
				name := fmt.Sprintf("%g Hz, speed %g, %g cents", hz, speed, cents)
				if got, want := float64(len(y))/rate, 3/speed; math.Abs(got-want) > 1e-4 {
					t.Errorf("%s: %.4f s long, want %.4f", name, got, want)
				}
				first, last := loud(y)
				worstEnd = max(worstEnd, math.Abs(first-from/speed), math.Abs(last-to/speed))
				if math.Abs(first-from/speed) > 0.005 || math.Abs(last-to/speed) > 0.005 {
					t.Errorf("%s: from %.3f to %.3f s, want %.3f to %.3f", name, first, last, from/speed, to/speed)
				}
				mid := y[int((first+0.1)*rate):int((last-0.1)*rate)]
				want := hz * math.Pow(2, cents/1200)
				off := 1200 * math.Log2(frequency(mid)/want)
				worstCents = max(worstCents, math.Abs(off))
				if !(math.Abs(off) < 3) {
					t.Errorf("%s: %.2f cents off", name, off)
				}
				if got, most := sharpest(y), 1.5*sharpest(x)*math.Pow(2, max(cents, 0)/600); got > most {
					t.Errorf("%s: clicks: %.4f, the input has %.4f", name, got, sharpest(x))
				}
			}
		}
	}
	t.Logf("at most %.2f cents and, at the ends, %.1f ms off", worstCents, 1000*worstEnd)
}

// Two channels of one sound stay one sound.
func TestChannelsTogether(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	x := make([]float64, 2*rate)
	half := make([]float64, len(x))
	for i := range x {
		x[i] = 0.1 * rng.NormFloat64()
		half[i] = x[i] / 2
	}
	y := Stretch([][]float64{x, half}, rate, 0.6, 20)
	for i := range y[0] {
		if math.Abs(y[0][i]/2-y[1][i]) > 1e-12 {
			t.Fatalf("sample %d: %g and %g", i, y[0][i], y[1][i])
		}
	}
}

// At its own speed and pitch everything stays as it is.
func TestUnchanged(t *testing.T) {
	x := tone(300, 1, 0.2, 0.8)
	y := Stretch([][]float64{x}, rate, 1, 0)[0]
	for i := range x {
		if x[i] != y[i] {
			t.Fatalf("sample %d: %g, want %g", i, y[i], x[i])
		}
	}
}

func TestShort(t *testing.T) {
	for _, n := range []int{0, 1, 7, 100, 2000} {
		if got := len(Stretch([][]float64{make([]float64, n)}, rate, 0.5, 30)[0]); got != 2*n {
			t.Errorf("%d samples became %d", n, got)
		}
	}
	if Stretch(nil, rate, 0.5, 0) != nil {
		t.Error("channels from none")
	}
}

func BenchmarkStretch(b *testing.B) {
	x := tone(440, 20, 0.5, 19)
	for b.Loop() {
		Stretch([][]float64{x}, rate, 0.5, 0)
	}
	b.ReportMetric(20*float64(b.N)/b.Elapsed().Seconds(), "x-real-time")
}
