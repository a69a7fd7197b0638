package beat

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Beats that a hand taps along with notes, each off by some milliseconds and all late or early by
// as many: the delay is found within 15 ms, also where half of the beats have no note and where
// notes lie off the beat. Random notes show no delay.
func TestTapDelay(t *testing.T) {
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 3))
		beat := 0.4 + 0.4*rng.Float64()
		delay := -0.06 + 0.2*rng.Float64()*beat/0.6
		var notes, taps []float64
		for k := range 40 {
			at := 1 + beat*float64(k)
			if rng.IntN(2) == 0 {
				notes = append(notes, at+0.01*rng.NormFloat64())
			}
			if rng.IntN(4) == 0 {
				notes = append(notes, at+2*beat/3)
			}
			taps = append(taps, at+delay+0.015*rng.NormFloat64())
		}
		if got := TapDelay(taps, Strength{Hop: 1}, notes); math.Abs(got-delay) > 0.015 {
			t.Errorf("seed %d: %.3f s at %.2f s a beat, want %.3f", seed, got, beat, delay)
		}
		moved := Earlier(taps, delay)
		if len(moved) != len(taps) || math.Abs(moved[3]-(taps[3]-delay)) > 1e-12 {
			t.Errorf("%d of %d taps, the fourth at %g s", len(moved), len(taps), moved[3])
		}
	}
	if got := TapDelay([]float64{1}, Strength{Hop: 1}, nil); got != 0 {
		t.Errorf("one tap is %g s late", got)
	}
	if got := Earlier([]float64{0.1, 0.2, 5}, 1); len(got) != 3 {
		t.Errorf("taps %v", got)
	}
}
