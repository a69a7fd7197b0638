package channel

import (
	"math"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
)

// What one channel has of the other's band is measured while a louder tone sounds
// in it, with silence before and after and noise in both.
func TestGain(t *testing.T) {
	for _, want := range []float64{0.1, 0.25, 0.7, 1, 2.5} {
		left, right := bandAndTone(want)
		x := newBins()
		x.add(left, right)
		if got := x.gain(); math.Abs(got-want) > 0.01*want {
			t.Errorf("the band is %.3f times as loud on the left, want %.3f", got, want)
		}
		c, ok := x.less(true)
		if g := decode.LeftLess(want); ok != (want != 1) || ok && math.Abs(share(t, c)-share(t, g)) > 0.01*want {
			t.Errorf("%v (%v), want about %v, and none if that is the side", c, ok, g)
		}
	}
}

// share is what is taken away of the other channel.
func share(t *testing.T, c decode.Channel) float64 {
	t.Helper()
	for g := 0.0; g <= 10; g += 0.001 {
		if decode.LeftLess(g) == c || decode.RightLess(g) == c {
			return g
		}
	}
	t.Fatalf("%v takes nothing away", c)
	return 0
}

// Silence and a channel that has nothing of the other leave nothing to take away.
func TestGainOfNothing(t *testing.T) {
	x := newBins()
	x.add(make([]float64, pitch.Rate), make([]float64, pitch.Rate))
	if g := x.gain(); g != 0 {
		t.Errorf("silence: %g", g)
	}
	left, right := bandAndTone(0)
	x = newBins()
	x.add(left, right)
	if c, ok := x.less(true); ok {
		t.Errorf("left has nothing of right, yet %v is to be heard", c)
	}
}

// bandAndTone are 6 s in which three voices of a band, with partials that change
// every quarter of a second, sound on the right and g times as loud on the left,
// where a tone three times as loud sounds most of the time.
func bandAndTone(g float64) (left, right []float64) {
	n := 6 * pitch.Rate
	left, right = make([]float64, n), make([]float64, n)
	hiss := noise(2 * n)
	for i := pitch.Rate; i < n-pitch.Rate/2; i++ {
		s := float64(i) / pitch.Rate
		turn, band := int(4*s), 0.0
		for v, hz := range []float64{98, 147, 220} {
			hz *= math.Exp2(float64((turn*(v+3))%7) / 12)
			for k := 1.0; k <= 8; k++ {
				band += 0.05 / k * math.Sin(2*math.Pi*hz*k*s)
			}
		}
		right[i], left[i] = band, g*band
		if turn%4 > 0 {
			for k := 1.0; k <= 6; k++ {
				left[i] += 0.3 / k * math.Sin(2*math.Pi*k*523*math.Exp2(float64(turn%5)/12)*s)
			}
		}
	}
	for i := range left {
		left[i] += 1e-4 * hiss[i]
		right[i] += 1e-4 * hiss[n+i]
	}
	return left, right
}

func noise(n int) []float64 {
	out, state := make([]float64, n), uint64(1)
	for i := range out {
		state = state*6364136223846793005 + 1442695040888963407
		out[i] = float64(state>>11)/(1<<52) - 1
	}
	return out
}

func BenchmarkGain(b *testing.B) {
	left, right := bandAndTone(0.25)
	x := newBins()
	for range 8 {
		x.add(left, right)
	}
	for b.Loop() {
		x.gain()
	}
}
