package compare

import (
	"math"
	"slices"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// Placement is where a passage lies in a tab that has more, played at another tempo: what
// is at t seconds in the passage is at At + t/Speed there. Events are those of the passage
// that were found there with the same tab.
type Placement struct {
	At, Speed float64
	Events    int
}

// When is the time in the tab that has more of a time in the passage, in seconds.
func (p Placement) When(t float64) float64 { return p.At + t/p.Speed }

// Scores of a local alignment: of the same tab, of tab that shares a reed (a transcription
// may hear one that only bleeds in), of other tab, of an event that has no counterpart. Any
// that reward what is right more than they forgive will do; these are common practice.
const (
	samePaired  = 2.0
	reedPaired  = 0.5
	otherPaired = -1.0
	unpaired    = -1.0
)

// A passage is found if a fifth of its events, and leastFound at least, lie in time at a
// tempo no farther from its own than mostFaster times. A slope between two events is told
// from leastApart seconds on.
const (
	leastFound = 4
	foundShare = 0.2
	mostFaster = 2.5
	leastApart = 0.5
	refinings  = 4
)

// Place finds where in b, and how fast, the passage a is played: events of the same tab in
// the same order (local alignment, Smith & Waterman 1981), through whose times a line is laid
// that wrong ones don't bend (the median of slopes: Sen 1968, "Estimates of the regression
// coefficient based on Kendall's tau", JASA 63), and again through all that then lie near it.
// False if it isn't there.
func Place(a, b tab.Document) (p Placement, ok bool) {
	same := sameEvents(a, b, a.Harp.Base == b.Harp.Base && a.Harp.Layout.Equal(b.Harp.Layout))
	x, y := timesOf(a, b, alikeInOrder(a.Events, b.Events, same))
	for k := 0; ; k++ {
		if len(x) < leastFound || float64(len(x)) < foundShare*float64(len(a.Events)) {
			return Placement{}, false
		}
		slope, at := medianLine(x, y)
		if !(slope > 1/mostFaster && slope < mostFaster) {
			return Placement{}, false
		}
		p = Placement{At: at, Speed: 1 / slope, Events: len(x)}
		if k == refinings {
			return p, true
		}
		var pairs [][2]int
		for _, q := range Difference(p.Moved(a), b, 0, NoOffset.Onset).Pairs {
			if q.Same {
				pairs = append(pairs, [2]int{q.A, q.B})
			}
		}
		x, y = timesOf(a, b, pairs)
	}
}

// Moved is the passage at the times at which it is played there.
func (p Placement) Moved(a tab.Document) tab.Document {
	a.Events, a.Phrases, a.Bars = slices.Clone(a.Events), slices.Clone(a.Phrases), slices.Clone(a.Bars)
	for i := range a.Events {
		e := &a.Events[i]
		e.Start, e.End = p.When(e.Start), p.When(e.End)
	}
	for i := range a.Phrases {
		q := &a.Phrases[i]
		q.Start, q.End = p.When(q.Start), p.When(q.End)
	}
	for i := range a.Bars {
		a.Bars[i].Start = p.When(a.Bars[i].Start)
	}
	a.BPM *= p.Speed
	a.From, a.To = p.When(a.From), p.When(a.To)
	return a
}

// Within is what of b is played while the passage is.
func (p Placement) Within(a, b tab.Document) tab.Document {
	if len(a.Events) == 0 {
		return b
	}
	from, to := math.Inf(1), math.Inf(-1)
	for _, e := range a.Events {
		from, to = min(from, p.When(e.Start)), max(to, p.When(e.End))
	}
	b.Events = slices.DeleteFunc(slices.Clone(b.Events), func(e tab.Event) bool {
		return e.Start < from-pairReach || e.Start > to
	})
	return b
}

// timesOf are the starts of pairs of events.
func timesOf(a, b tab.Document, pairs [][2]int) (x, y []float64) {
	for _, p := range pairs {
		x, y = append(x, a.Events[p[0]].Start), append(y, b.Events[p[1]].Start)
	}
	return x, y
}

// medianLine is the slope and the height at 0 of a line through points, by medians.
func medianLine(x, y []float64) (slope, at float64) {
	var slopes, heights []float64
	for i := range x {
		for j := range i {
			if d := x[i] - x[j]; d >= leastApart {
				slopes = append(slopes, (y[i]-y[j])/d)
			}
		}
	}
	slope = median(slopes)
	for i := range x {
		heights = append(heights, y[i]-slope*x[i])
	}
	return slope, median(heights)
}

// median of some numbers, 0 of none.
func median(x []float64) float64 {
	if len(x) == 0 {
		return 0
	}
	s := slices.Sorted(slices.Values(x))
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}

// alikeInOrder are the pairs with the same tab of the best local alignment of two sequences
// of events.
func alikeInOrder(a, b []tab.Event, same func(i, j int) bool) [][2]int {
	n, m := len(a), len(b)
	const up, left, both = 1, 2, 3
	back := make([][]byte, n+1)
	score, above := make([]float64, m+1), make([]float64, m+1)
	best, bi, bj := 0.0, 0, 0
	for i := range back {
		back[i] = make([]byte, m+1)
		score, above = above, score
		for j := 1; i > 0 && j <= m; j++ {
			s, by := 0.0, byte(0)
			if v := above[j-1] + paired(a[i-1], b[j-1], same(i-1, j-1)); v > s {
				s, by = v, both
			}
			if v := above[j] + unpaired; v > s {
				s, by = v, up
			}
			if v := score[j-1] + unpaired; v > s {
				s, by = v, left
			}
			score[j], back[i][j] = s, by
			if s > best {
				best, bi, bj = s, i, j
			}
		}
	}
	var out [][2]int
	for i, j := bi, bj; back[i][j] != 0; {
		switch back[i][j] {
		case both:
			i, j = i-1, j-1
			if same(i, j) {
				out = append(out, [2]int{i, j})
			}
		case up:
			i--
		default:
			j--
		}
	}
	slices.Reverse(out)
	return out
}

// paired is what a pair of events scores.
func paired(a, b tab.Event, same bool) float64 {
	shares := slices.ContainsFunc(a.Actions, func(x harp.Action) bool { return slices.Contains(b.Actions, x) })
	switch {
	case same:
		return samePaired
	case shares:
		return reedPaired
	}
	return otherPaired
}
