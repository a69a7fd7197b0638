package tabber

import (
	"math"
	"testing"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/render"
)

// Harps tuned equal, just and between, on recordings up to 40 cents off: the
// offset of hole 1 blow comes out within 5 cents. Ratios of just intonation:
// package harp.
func TestTuning(t *testing.T) {
	h := harpOf(t, "C", "richter")
	g := melody(t, h, lick[:17], lengths)
	for _, just := range []float64{0, 0.5, 1} {
		for _, cents := range []float64{-40, -20, 0, 20, 40} {
			clip, _ := played(h, render.Tuning{Temperament: harp.Temperament{Just: just}, Cents: cents}, 7, g)
			r := classical(t, h, Options{}).Clip(clip, math.NaN())
			if math.Abs(r.TuningCents-cents) > 5 {
				t.Errorf("%g just, %g cents: measured %.2f", just, cents, r.TuningCents)
			}
		}
	}
}
