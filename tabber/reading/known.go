package reading

import (
	"cmp"
	"math"
	"slices"

	"blowdraw/decode/logistic"
	"blowdraw/tabber/lattice"
)

// Somebody who has decided some notes of a recording has said what an octave sounds like
// there, and what one reed. The model that answers the question of octaves is fitted to
// many recordings; in this one it leans to one side by some odds. How far is estimated from
// the questions whose answer is known near a note: the likeliest lean, given that leans are
// normally distributed about 0 with a standard deviation of usualLean (a logistic model with
// an intercept alone and a Gaussian prior; the maximum a posteriori by Newton's method,
// Bishop 2006, "Pattern Recognition and Machine Learning", section 4.5).

// usualLean is e to its power in odds: about 3 to 1.
const usualLean = 1.0

// answered is a question of an octave whose answer is known.
type answered struct {
	Times
	odds   float64 // that the model gives an octave
	octave bool
}

// askBeside is ask for spans beside others whose states are known, which count as near.
func (r Reader) askBeside(x Sound, spans, known []lattice.Span, past Nearby) (asked []Span, near Nearby) {
	all := slices.Concat(spans, known)
	slices.SortStableFunc(all, func(a, b lattice.Span) int { return cmp.Compare(a.From, b.From) })
	isKnown := map[int]int{} // first frame to state
	for _, s := range known {
		isKnown[s.From] = s.State
	}
	found, near := r.ask(x, all, past)
	near.known = slices.Clone(past.known)
	for i := range found {
		state, ok := isKnown[found[i].From]
		if !ok {
			continue
		}
		found[i].State = state
		at := timesOf(x.Frames, found[i].Span)
		if low, both, poses := r.States.OctaveOf(state); poses && found[i].Octave != 0 && low != both &&
			at.Start >= past.From {
			near.known = append(near.known, answered{at, found[i].Octave, state == both})
		}
	}
	for i, s := range found {
		if _, ok := isKnown[s.From]; ok {
			continue
		}
		asked = append(asked, r.leaned(s, all[i], timesOf(x.Frames, s.Span), near.known))
	}
	return asked, near
}

// leaned is a span, found in some state, whose question is answered anew with what is known
// near it.
func (r Reader) leaned(s Span, found lattice.Span, at Times, known []answered) Span {
	low, both, ok := r.States.OctaveOf(found.State)
	if !ok || s.Octave == 0 {
		return s
	}
	var odds []float64
	var octaves []bool
	for _, k := range known {
		if at.near(k.Times) {
			odds, octaves = append(odds, k.odds), append(octaves, k.octave)
		}
	}
	s.Octave = min(max(s.Octave+lean(odds, octaves), -oddsMost), oddsMost)
	s.State = found.State
	switch {
	case s.Octave > 0:
		s.State = both
	case s.Octave < 0:
		s.State = low
	}
	return s
}

// lean is by what odds a model leans that gives those of something, where it is known
// whether that was so.
func lean(odds []float64, was []bool) float64 {
	by := 0.0
	for range 50 {
		slope, curve := -by/(usualLean*usualLean), 1/(usualLean*usualLean)
		for i, o := range odds {
			p := logistic.Probability(o + by)
			slope -= p
			if was[i] {
				slope++
			}
			curve += p * (1 - p)
		}
		step := slope / curve
		by += step
		if math.Abs(step) < 1e-9 {
			break
		}
	}
	return by
}
