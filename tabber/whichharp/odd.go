package whichharp

import (
	"slices"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/hearing"
	"blowdraw/tabber/tab"
)

// Probability of a harp, 0 if it is no candidate.
func (r Ranking) Probability(h harp.Harp) float64 {
	i := slices.IndexFunc(r.Candidates, func(c Candidate) bool { return same(c.Harp, h) })
	if i < 0 {
		return 0
	}
	return r.Candidates[i].Probability
}

func same(a, b harp.Harp) bool { return a.Base == b.Base && a.Layout.Equal(b.Layout) }

// oddShare of the sounding time on notes that a harp lacks is odd.
const oddShare = 0.03

// Odd reports whether a tab's notes are so odd for its harp that it is worth
// listening for another: notes that it lacks, or another key of the same layout
// on which players would rather play them. It does not listen, and has no opinion
// on double low harps.
func Odd(h harp.Harp, events []tab.Event, cents float64) bool {
	if octaveShare[octave(h)] == 0 {
		return false
	}
	f := Fit{Harp: h, Events: events, Tuning: hearing.Tuning{Cents: cents}}
	own := reread(f, h)
	for _, e := range events {
		own.Sounding += e.End - e.Start
	}
	if own.Strange > oddShare*own.Sounding {
		return true
	}
	best, _ := fitted.weigh(CuesOf(own), AnyKey)
	for _, other := range candidates(h.Layout) {
		if score, _ := fitted.weigh(CuesOf(reread(f, other)), AnyKey); score > best {
			return true
		}
	}
	return false
}
