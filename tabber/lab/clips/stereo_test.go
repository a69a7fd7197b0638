package clips

import (
	"math"
	"math/rand/v2"
	"testing"

	"blowdraw/tabber/render/effect"
)

func hiss(n int) []float64 {
	rng := rand.New(rand.NewPCG(1, 2))
	x := make([]float64, n)
	for i := range x {
		x[i] = rng.NormFloat64()
	}
	return x
}

// Wherever a track sits, the mean of both channels is the track; at a side the
// other channel has nothing of it.
func TestPot(t *testing.T) {
	x := hiss(100)
	for _, at := range []float64{-1, -0.3, 0, 0.6, 1} {
		s := Song{Left: make([]float64, 100), Right: make([]float64, 100)}
		s.pot(x, 0.5, at)
		for i, v := range x {
			if mean := (s.Left[i] + s.Right[i]) / 2; math.Abs(mean-v/2) > 1e-9 {
				t.Fatalf("at %g the mean has %g for %g", at, mean, v/2)
			}
		}
		l, r := effect.RMS(s.Left), effect.RMS(s.Right)
		if at == -1 && r > 1e-9 || at == 1 && l > 1e-9 || (l < r) != (at > 0) && at != 0 {
			t.Errorf("at %g: RMS %g left, %g right", at, l, r)
		}
	}
}

// Tails are as loud as what they are of, and neither like it nor like each other.
func TestTail(t *testing.T) {
	x := hiss(2 * Rate)
	a := tail(x, effect.Room{T60: 0.6, PreDelay: 0.02, Seed: 1})
	b := tail(x, effect.Room{T60: 0.6, PreDelay: 0.02, Seed: 2})
	if r := effect.RMS(a) / effect.RMS(x); math.Abs(r-1) > 0.01 {
		t.Errorf("the tail is %.2f times as loud", r)
	}
	for name, p := range map[string][2][]float64{"sound": {x, a}, "other tail": {a, b}} {
		xy := 0.0
		for i, v := range p[0] {
			xy += v * p[1][i]
		}
		if c := xy / float64(len(x)) / effect.RMS(p[0]) / effect.RMS(p[1]); math.Abs(c) > 0.1 {
			t.Errorf("correlation of %.2f with the %s", c, name)
		}
	}
}
