package tabber

import (
	"fmt"
	"math"
	"slices"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/presence"
)

const (
	offSpeed  = 15.0 // cents off pitch from which a speed is told
	halfway   = 50.0 // cents from which on a harp a semitone away would be nearer
	strangers = 0.15 // share of events that the harp does not have from which it is probably another one
)

// Remarks say how hard the recording is, in players' words; none if it could not be told.
func (r Result) Remarks() []string {
	if r.Stretches != nil &&
		!slices.ContainsFunc(r.Stretches, func(s presence.Stretch) bool { return s.Kind == presence.Harp }) {
		return []string{"nothing surely sounds like a harp: every note is in doubt"}
	}
	out := r.Condition.Words()
	if cents := r.TuningCents; math.Abs(cents) >= offSpeed {
		out = append(out, speedWords(cents))
	}
	return out
}

// speedWords say how fast or slow a record runs that is so many cents off.
func speedWords(cents float64) string {
	way := "fast"
	if cents < 0 {
		way = "slow"
	}
	told := fmt.Sprintf(
		"%.1f%% %s if the harp was tuned to A = 440 Hz",
		100*math.Abs(math.Exp2(cents/1200)-1),
		way,
	)
	if math.Abs(cents) > halfway {
		told += ", going by the harp you named: with another key it would be less"
	}
	return told
}

// WrongHarp doubts the harp if many events are not on it; empty otherwise.
func (r Result) WrongHarp(h harp.Harp) string {
	n := 0
	for _, e := range r.Events {
		if len(e.Actions) == 0 {
			n++
		}
	}
	if float64(n) < strangers*float64(len(r.Events)) {
		return ""
	}
	return fmt.Sprintf("%d of %d notes are not on the %s harp (%s): is it another harp, or another layout?",
		n, len(r.Events), h.Name, h.Layout.Name)
}
