package resample

import (
	"fmt"
	"math"
	"testing"
)

func sine(rate, n int, hz float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = math.Sin(2 * math.Pi * hz * float64(i) / float64(rate))
	}
	return x
}

// level returns the RMS level in dB of the middle of a signal, 0 dB for a sine
// of amplitude 1.
func level(x []float64) float64 {
	x = x[len(x)/4 : len(x)*3/4]
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return 10 * math.Log10(2*sum/float64(len(x))+1e-30)
}

var pairs = [][2]int{
	{44100, 22050}, {48000, 22050}, {96000, 22050}, {192000, 22050}, {32000, 22050},
	{11025, 22050}, {8000, 22050}, {16000, 22050}, {44099, 22050}, {22050, 44100}, {44100, 48000},
}

func TestPassbandFlat(t *testing.T) {
	for _, p := range pairs {
		nyquist := float64(min(p[0], p[1])) / 2
		for _, part := range []float64{0.01, 0.3, 0.7, Passband} {
			hz := part * nyquist
			in := sine(p[0], p[0], hz)
			out, err := Convert(in, p[0], p[1])
			if err != nil {
				t.Fatal(err)
			}
			if len(out) != p[1] {
				t.Fatalf("%v: one second became %d samples", p, len(out))
			}
			// Sample n must be the sine at n/to: level, delay and distortion at once.
			want := sine(p[1], p[1], hz)
			for i := range out {
				out[i] -= want[i]
			}
			if e := level(out); e > -85 {
				t.Errorf("%d to %d Hz: a tone of %.0f Hz is off by %.1f dB", p[0], p[1], hz, e)
			}
		}
	}
}

func TestAliasing(t *testing.T) {
	for _, p := range pairs {
		if p[0] <= p[1] {
			continue
		}
		for hz := float64(p[1]) / 2; hz < float64(p[0])/2; hz += float64(p[0]-p[1]) / 14.3 {
			out, err := Convert(sine(p[0], p[0], hz), p[0], p[1])
			if err != nil {
				t.Fatal(err)
			}
			if l := level(out); l > -90 {
				t.Errorf("%d to %d Hz: a tone of %.0f Hz comes out at %.1f dB", p[0], p[1], hz, l)
			}
		}
	}
}

func TestConstantKeepsLevel(t *testing.T) {
	x := make([]float64, 20000)
	for i := range x {
		x[i] = 0.25
	}
	for _, p := range pairs {
		out, _ := Convert(x, p[0], p[1])
		if v := out[len(out)/2]; math.Abs(v-0.25) > 1e-14 {
			t.Errorf("%v: a constant 0.25 became %.17g", p, v)
		}
	}
}

func TestReachAndLen(t *testing.T) {
	for _, p := range pairs {
		f, err := New(p[0], p[1])
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range []int64{0, 1, 2, 999, 1000, 12345} {
			m := f.Len(n)
			if m > 0 && (m-1)*int64(p[0]) >= n*int64(p[1]) || m*int64(p[0]) < n*int64(p[1]) {
				t.Errorf("%v: Len(%d) = %d", p, n, m)
			}
			r := f.Reach(n)
			if r > 0 {
				if _, last := f.Span(r - 1); last >= n {
					t.Errorf("%v: Reach(%d) = %d needs sample %d", p, n, r, last)
				}
			}
			if _, last := f.Span(r); last < n {
				t.Errorf("%v: Reach(%d) = %d, one more would do", p, n, r)
			}
		}
	}
}

func TestNewRefusesBadRates(t *testing.T) {
	for _, p := range [][2]int{{0, 1}, {1, 0}, {-1, 5}} {
		if _, err := New(p[0], p[1]); err == nil {
			t.Errorf("New%v gave no error", p)
		}
	}
}

func BenchmarkConvert20s(b *testing.B) {
	for _, from := range []int{44100, 48000, 96000, 44099} {
		x := sine(from, 20*from, 440)
		b.Run(fmt.Sprint(from), func(b *testing.B) {
			for b.Loop() {
				if _, err := Convert(x, from, 22050); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
