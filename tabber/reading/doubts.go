package reading

import (
	"cmp"
	"slices"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// What is in doubt of an event is told by where the probability lies that is not its own:
// over its time with other states (which differ from it in holes, bends, breath or the
// number of reeds), or with its own state that begins at another time. What the fitted
// confidence leaves is dealt out among these as the posterior has them, since the posterior
// knows which and the confidence how much.

// startReach is how many frames away from where it was found a start may be that still is
// one of the same event (0.15 s), startRight how many count as right (46 ms).
const (
	startReach = 13
	startRight = 4
)

// Differs is the word for what differs between two readings: actions ascending by hole,
// none for nothing played.
func Differs(a, b []harp.Action) string {
	switch {
	case len(a) == 0 || len(b) == 0:
		return tab.PerhapsNothing
	case a[0].Breath != b[0].Breath:
		return tab.BlowOrDraw
	case len(a) != len(b) && (allIn(a, b) || allIn(b, a)):
		if len(a)+len(b) == 3 {
			return tab.OneOrTwo
		}
		return tab.HowManyReeds
	}
	bent := len(a) == len(b)
	for i := range min(len(a), len(b)) {
		bent = bent && a[i].Hole == b[i].Hole
	}
	if bent {
		return tab.HowFarBent
	}
	return tab.WhichHole
}

// allIn reports whether b has all of a.
func allIn(a, b []harp.Action) bool {
	return !slices.ContainsFunc(a, func(x harp.Action) bool { return !slices.Contains(b, x) })
}

// doubts are what may be wrong with the event of span i, likeliest first: their
// probabilities add up to what its confidence leaves.
func (r Reader) doubts(x Reading, i int) []tab.Doubt {
	s, p := x.Spans[i], x.Posterior
	same := r.States.SameSound(s.State)
	weights := map[string]float64{}
	own, own0 := 0.0, r.States[s.State]
	for k, share := range r.Shares(p, s) {
		switch o := r.States[k]; {
		case slices.Contains(same, k):
			own += share
		case len(o.Actions) == 0 && len(o.Rows) > 0, len(own0.Actions) == 0:
			weights[tab.NotTheHarp] += share
		default:
			weights[Differs(own0.Actions, o.Actions)] += share
		}
	}
	r.doubtStart(x, i, same, own, weights)
	return dealt(weights, 1-x.Confidences[i])
}

// withReadings are doubts that are no less likely than the other readings of their kind.
func withReadings(doubts []tab.Doubt, e tab.Event) []tab.Doubt {
	if len(e.Actions) == 0 {
		return doubts
	}
	for _, a := range e.Alternatives {
		word := Differs(e.Actions, a.Actions)
		i := slices.IndexFunc(doubts, func(d tab.Doubt) bool { return d.Word == word })
		if i < 0 {
			i, doubts = len(doubts), append(doubts, tab.Doubt{Word: word})
		}
		doubts[i].Probability = max(doubts[i].Probability, a.Confidence)
	}
	sortDoubts(doubts)
	return doubts
}

// doubtStart adds to the weights how far a span's state, which has a share of the
// posterior, begins earlier or later than was found.
func (r Reader) doubtStart(x Reading, i int, same []int, own float64, weights map[string]float64) {
	s, p := x.Spans[i], x.Posterior
	earlier := 0.0
	if k := s.Found - startRight - 1; k >= 0 && k < p.Frames() {
		for _, j := range same {
			earlier += float64(p.In[k*p.States+j])
		}
	}
	word := tab.StartsEarlier
	if i > 0 && slices.Contains(same, x.Spans[i-1].State) && x.Spans[i-1].To >= s.Found-startRight {
		word = tab.HeldOver
	}
	weights[word] += min(earlier, own)
	later := 0.0
	for k := s.Found + startRight + 1; k <= min(s.Found+startReach, p.Frames()-1); k++ {
		later += p.Begins(same, k, 0)
	}
	weights[tab.StartsLater] += min(later, own)
}

// dealt are doubts in proportion to weights that add up to some probability, likeliest
// first.
func dealt(weights map[string]float64, sum float64) []tab.Doubt {
	var out []tab.Doubt
	all := 0.0
	for _, word := range tab.DoubtWords() {
		if w := weights[word]; w > 0 {
			out, all = append(out, tab.Doubt{Word: word, Probability: w}), all+w
		}
	}
	for i := range out {
		out[i].Probability *= sum / all
	}
	sortDoubts(out)
	return out
}

func sortDoubts(d []tab.Doubt) {
	slices.SortStableFunc(d, func(a, b tab.Doubt) int { return cmp.Compare(b.Probability, a.Probability) })
}

// A doubt is told if it is at least half as likely as the likeliest, mostTold of them.
const mostTold = 2

// Told is an event as it is told if a harp plays it with some probability: its readings
// hold only if one does, and what is in doubt is told only where something is.
func Told(e tab.Event, harp float64) tab.Event {
	e.Confidence *= harp
	e.Alternatives = slices.Clone(e.Alternatives)
	for i := range e.Alternatives {
		e.Alternatives[i].Confidence *= harp
	}
	doubts := e.Doubts
	e.Doubts = nil
	if !e.Doubtful() {
		e.Alternatives = worthShowing(e.Alternatives, false)
		return e
	}
	not := tab.Doubt{Word: tab.NotTheHarp, Probability: 1 - harp}
	for _, d := range doubts {
		if d.Word == not.Word {
			not.Probability += harp * d.Probability
			continue
		}
		e.Doubts = append(e.Doubts, tab.Doubt{Word: d.Word, Probability: harp * d.Probability})
	}
	e.Doubts = append(e.Doubts, not)
	sortDoubts(e.Doubts)
	least := e.Doubts[0].Probability / 2
	e.Doubts = slices.DeleteFunc(e.Doubts, func(d tab.Doubt) bool {
		return d.Probability < least || d.Probability == 0
	})
	e.Doubts = e.Doubts[:min(len(e.Doubts), mostTold)]
	if len(e.Actions) > 0 {
		e.Alternatives = worthShowing(e.Alternatives, slices.ContainsFunc(e.Doubts,
			func(d tab.Doubt) bool { return tab.AsksReading(d.Word) }))
	}
	return e
}
