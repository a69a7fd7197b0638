package tabber

import (
	"math"
	"slices"
	"testing"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/render"
	"blowdraw/tabber/tab"
)

// Harps tuned equal, just and between, on recordings up to 40 cents off: the
// offset of hole 1 blow comes out within 5 cents. Ratios of just intonation:
// package harp.
func TestTuning(t *testing.T) {
	h := harpOf(t, "C", "richter")
	g := melody(t, h, lick[:17], lengths)
	shares := []float64{1, 0.5, 0}
	if !thorough {
		shares = shares[:1]
	}
	for _, just := range shares {
		for _, cents := range []float64{-40, -20, 0, 20, 40} {
			clip, _ := played(h, render.Tuning{Temperament: harp.Temperament{Just: just}, Cents: cents}, 7, g)
			r := classical(t, h, Options{}).Clip(clip)
			if math.Abs(r.TuningCents-cents) > 5 {
				t.Errorf("%g just, %g cents: measured %.2f", just, cents, r.TuningCents)
			}
		}
	}
}

// A record that runs most of a semitone fast or slow is read on the harp's own
// rows, not a semitone off. The reeds are those of package render.
func TestSemitoneOff(t *testing.T) {
	h := harpOf(t, "A", "richter")
	offsets := []float64{-70, 95, 0, -95, -30, 45, 70}
	if !thorough {
		offsets = offsets[:2]
	}
	for _, cents := range offsets {
		g := melody(
			t,
			h,
			[]string{"-2", "1", "-3'", "4", "-4", "-4'", "4", "-3'", "-2", "2", "-1", "-2", "6", "-5", "-4"},
			[]float64{0.4},
		)
		clip, truth := played(h, render.Tuning{Cents: cents}, 3, g)
		tr, err := NewTranscriber(h, Options{})
		if err != nil {
			t.Fatal(err)
		}
		r := tr.Clip(clip)
		if math.Abs(r.TuningCents-cents) > 6 {
			t.Errorf("%.0f cents off: measured %.1f", cents, r.TuningCents)
		}
		right := 0
		for _, e := range r.Events {
			if slices.ContainsFunc(truth, func(w tab.Event) bool {
				return math.Abs(w.Start-e.Start) < 0.05 && tab.Token(w.Actions) == tab.Token(e.Actions)
			}) {
				right++
			}
		}
		if right < len(truth)-1 || len(r.Events) > len(truth)+1 {
			t.Errorf("%.0f cents off: %d of %d notes right, %d written", cents, right, len(truth), len(r.Events))
		}
	}
}
