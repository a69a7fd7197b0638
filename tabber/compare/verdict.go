package compare

import (
	"math"

	"blowdraw/tabber/tab"
)

// Verdict is the difference of two tabs in a teacher's words. Of the events of A there
// are Right that B has with the same tab, Other for which it has other tab, and LeftOut
// for which it has none; Added are in B alone. Late is by how many seconds the right
// ones start after A's on average.
type Verdict struct {
	Right, Other, LeftOut, Added int
	Late                         float64
	Drifts                       []Drift
}

// Drift is a bar or a phrase of A in the course of which B gains or loses: Seconds are
// how much later its last event is than its first, on the line through them, so that
// who hurries has a number below 0.
type Drift struct {
	Bar     bool // Number is that of a bar; otherwise of a phrase, from 1
	Number  int
	Seconds float64
}

// A line through fewer events than leastOnLine, or one whose slope is not surelyDrifts
// times its standard error, tells of single notes and not of a tempo.
const (
	leastOnLine  = 4
	surelyDrifts = 2
)

// Verdict sums up a comparison with a. Drifts are the bars of a, or without bar lines
// its phrases, in which B drifts by more than limit seconds.
func (c Comparison) Verdict(a tab.Document, limit float64) Verdict {
	v := Verdict{Late: c.Timing.Mean}
	var groups []Drift
	var starts, late [][]float64 // of the events of each group
	for _, p := range c.Pairs {
		switch {
		case p.A < 0:
			v.Added++
			continue
		case p.B < 0:
			v.LeftOut++
			continue
		case !p.Same:
			v.Other++
			continue
		}
		v.Right++
		at := a.Events[p.A].Start
		group, ok := groupOf(a, at)
		if !ok {
			continue
		}
		if n := len(groups); n == 0 || groups[n-1] != group {
			groups, starts, late = append(groups, group), append(starts, nil), append(late, nil)
		}
		last := len(groups) - 1
		starts[last], late[last] = append(starts[last], at), append(late[last], p.Late)
	}
	for i, g := range groups {
		if g.Seconds = drift(starts[i], late[i]); math.Abs(g.Seconds) > limit {
			v.Drifts = append(v.Drifts, g)
		}
	}
	return v
}

// groupOf is the bar, or without bar lines the phrase, of a time in seconds.
func groupOf(a tab.Document, at float64) (d Drift, ok bool) {
	if place, barred := a.PlaceAt(at); barred {
		return Drift{Bar: true, Number: place.Bar}, true
	}
	for i, ph := range a.Phrases {
		if tab.Millis(ph.Start) <= tab.Millis(at) {
			d = Drift{Number: i + 1}
		}
	}
	return d, d.Number > 0
}

// drift is by how much y grows over the ascending x on the line of least squares; 0
// where there is no telling.
func drift(x, y []float64) float64 {
	n := len(x)
	if n < leastOnLine {
		return 0
	}
	mx, my := SpreadOf(x).Mean, SpreadOf(y).Mean
	var xx, xy, rest float64
	for i := range x {
		xx += (x[i] - mx) * (x[i] - mx)
		xy += (x[i] - mx) * (y[i] - my)
	}
	if xx == 0 {
		return 0
	}
	slope := xy / xx
	for i := range x {
		r := y[i] - my - slope*(x[i]-mx)
		rest += r * r
	}
	if math.Abs(slope) < surelyDrifts*math.Sqrt(rest/float64(n-2)/xx) {
		return 0
	}
	return slope * (x[n-1] - x[0])
}
