package compare

import (
	"math"
	"slices"
	"sort"

	"blowdraw/tabber/tab"
)

// Comparison is how two tabs of the same passage differ. A stands for the truth.
type Comparison struct {
	Notes     Result // of all sounding pitches, by NoOffset
	WithEnds  Result // the same, by WithOffset
	Holes     Result // of events: onset within the tolerance and the same tab
	SameHarp  bool   // false: events are the same if they sound the same notes
	Pairs     []Pair // every event of A and of B, in order of time
	Timing    Spread // B against A, of events with the same tab
	BeatStart float64
}

// Pair is an event of A and the one of B that stands for it. A or B is -1 where
// there is none.
type Pair struct {
	A, B int
	Same bool    // the same tab
	Late float64 // seconds that B starts after A
}

// Spread is the mean and the standard deviation of N differences in seconds.
type Spread struct {
	N          int
	Mean, Sdev float64
}

// pairReach is the greatest difference in seconds of the starts of two events
// that stand for each other.
const pairReach = 0.3

// Difference compares tab B, all its times moved by shift seconds, with tab A.
// Pitches are compared as notes after each recording's own tuning, so that two
// takes off pitch by different amounts agree. Onsets may differ by onset seconds
// (0.05 is usual).
func Difference(a, b tab.Document, shift, onset float64) Comparison {
	b.Events = slices.Clone(b.Events)
	for i := range b.Events {
		b.Events[i].Start += shift
		b.Events[i].End += shift
	}
	c := Comparison{SameHarp: a.Harp.Base == b.Harp.Base && a.Harp.Layout.Equal(b.Harp.Layout)}
	free, full := NoOffset, WithOffset
	free.Onset, full.Onset = onset, onset
	na, nb := nominal(a), nominal(b)
	c.Notes, c.WithEnds = Notes(na, nb, free), Notes(na, nb, full)
	same := sameEvents(a, b, c.SameHarp)
	start := func(e tab.Event) float64 { return e.Start }
	c.Holes = result(matchNear(a.Events, b.Events, start, onset, func(i, j int) bool {
		return Within(a.Events[i].Start, b.Events[j].Start, onset) && same(i, j)
	}), len(b.Events))
	c.Pairs = pairs(a.Events, b.Events, same)
	var late []float64
	for _, p := range c.Pairs {
		if p.Same {
			late = append(late, p.Late)
		}
	}
	c.Timing = SpreadOf(late)
	if len(a.Events) > 0 {
		c.BeatStart = a.Events[0].Start
	}
	return c
}

// nominal lists the pitches of a document as notes, its tuning taken off.
func nominal(d tab.Document) []Note {
	out := NotesOf(d.Events)
	for i := range out {
		out[i].Pitch -= d.TuningCents / 100
	}
	return out
}

// sameEvents tells whether event i of a and event j of b are the same tab, or on
// different harps the same notes.
func sameEvents(a, b tab.Document, sameHarp bool) func(i, j int) bool {
	sounds := func(d tab.Document) [][]int {
		out := make([][]int, len(d.Events))
		for i, e := range d.Events {
			for _, p := range e.Pitches {
				out[i] = append(out[i], int(math.Round(p-d.TuningCents/100)))
			}
			slices.Sort(out[i])
		}
		return out
	}
	sa, sb := sounds(a), sounds(b)
	return func(i, j int) bool {
		x, y := a.Events[i].Actions, b.Events[j].Actions
		if sameHarp && len(x) > 0 && len(y) > 0 {
			return SameTab(a.Harp, x, y)
		}
		return (len(x) == 0) == (len(y) == 0) && slices.Equal(sa[i], sb[j])
	}
}

// SpreadOf differences in seconds.
func SpreadOf(x []float64) Spread {
	s := Spread{N: len(x)}
	if s.N == 0 {
		return s
	}
	for _, v := range x {
		s.Mean += v / float64(s.N)
	}
	for _, v := range x {
		s.Sdev += (v - s.Mean) * (v - s.Mean) / float64(s.N)
	}
	s.Sdev = math.Sqrt(s.Sdev)
	return s
}

// ByBeat groups the differences of events with the same tab by the beat of A that
// they are nearest to, counted in bars of so many beats from A's first event,
// which is taken for the first beat. It needs a tempo, beats a minute.
func (c Comparison) ByBeat(a tab.Document, bpm float64, beats int) []Spread {
	late := make([][]float64, beats)
	for _, p := range c.Pairs {
		if !p.Same {
			continue
		}
		beat := int(math.Round((a.Events[p.A].Start - c.BeatStart) * bpm / 60))
		late[beat%beats] = append(late[beat%beats], p.Late)
	}
	out := make([]Spread, beats)
	for i := range late {
		out[i] = SpreadOf(late[i])
	}
	return out
}

// pairs aligns two sequences of events at least cost (dynamic programming after
// Needleman & Wunsch 1970). Stretches that no pair can cross are aligned by
// themselves.
func pairs(a, b []tab.Event, same func(i, j int) bool) []Pair {
	var out []Pair
	for i, j := 0, 0; i < len(a) || j < len(b); {
		ei, ej := stretch(a, b, i, j)
		out = append(out, align(a, b, i, ei, j, ej, same)...)
		i, j = ei, ej
	}
	return out
}

// stretch finds the end of the events from i and j on whose starts follow each
// other within pairReach.
func stretch(a, b []tab.Event, i, j int) (int, int) {
	reach := math.Inf(1)
	for i < len(a) || j < len(b) {
		fromA := i < len(a) && (j == len(b) || a[i].Start <= b[j].Start)
		var start float64
		if fromA {
			start = a[i].Start
		} else {
			start = b[j].Start
		}
		if start > reach {
			break
		}
		reach = start + pairReach
		if fromA {
			i++
		} else {
			j++
		}
	}
	return i, j
}

// Costs of an alignment: an event alone costs 1, two that differ otherTab, and a
// difference of pairReach in their starts farApart more. So the same tab is paired
// over all of pairReach, other tab over 0.13 s.
const (
	otherTab = 1.2
	farApart = 1.8
)

// bands are, for every number of events of a, the numbers of events of b that an
// alignment may have used up by then: all that start more than pairReach before the
// last of a, and none that start as much after it.
func bands(a, b []tab.Event) (lo, hi []int) {
	lo, hi = make([]int, len(a)+1), make([]int, len(a)+1)
	for i := range a {
		lo[i+1] = sort.Search(len(b), func(j int) bool { return b[j].Start >= a[i].Start-pairReach })
		hi[i+1] = sort.Search(len(b), func(j int) bool { return b[j].Start > a[i].Start+pairReach })
	}
	for i := range a { // so that one row leads to the next
		hi[i] = max(hi[i], lo[i+1])
	}
	hi[len(a)] = len(b)
	return lo, hi
}

func align(a, b []tab.Event, i0, i1, j0, j1 int, same func(i, j int) bool) []Pair {
	n, m := i1-i0, j1-j0
	const up, left, both = 1, 2, 3
	lo, hi := bands(a[i0:i1], b[j0:j1])
	back := make([][]byte, n+1)
	cost, above := make([]float64, m+1), make([]float64, m+1)
	for i := 0; i <= n; i++ {
		cost, above = above, cost
		back[i] = make([]byte, hi[i]-lo[i]+1)
		for j := lo[i]; j <= hi[i]; j++ {
			best, by := math.Inf(1), byte(0)
			if i == 0 && j == 0 {
				best = 0
			}
			over := func(j int) float64 { // the cost above, if there is one
				if i == 0 || j < lo[i-1] || j > hi[i-1] {
					return math.Inf(1)
				}
				return above[j]
			}
			if i > 0 && j > 0 {
				if d := math.Abs(a[i0+i-1].Start - b[j0+j-1].Start); d <= pairReach {
					c := over(j-1) + farApart*d/pairReach
					if !same(i0+i-1, j0+j-1) {
						c += otherTab
					}
					best, by = c, both
				}
			}
			if c := over(j) + 1; c < best {
				best, by = c, up
			}
			if j > lo[i] && cost[j-1]+1 < best {
				best, by = cost[j-1]+1, left
			}
			cost[j], back[i][j-lo[i]] = best, by
		}
	}
	var out []Pair
	for i, j := n, m; i > 0 || j > 0; {
		p := Pair{A: i0 + i - 1, B: j0 + j - 1}
		switch back[i][j-lo[i]] {
		case up:
			p.B = -1
			i--
		case left:
			p.A = -1
			j--
		default:
			p.Same, p.Late = same(p.A, p.B), b[p.B].Start-a[p.A].Start
			i, j = i-1, j-1
		}
		out = append(out, p)
	}
	slices.Reverse(out)
	return out
}

// shiftEvents is how many events of a tab Shift looks at.
const shiftEvents = 3000

// Shift is how far in seconds tab B has to be moved so that the most of its
// events start with the same event of A, within onset seconds either way; of
// equals the least. It is the mean of those differences, 0 if there are none. Of
// very long tabs the first events decide.
func Shift(a, b tab.Document, onset float64) float64 {
	same := sameEvents(a, b, a.Harp.Base == b.Harp.Base && a.Harp.Layout.Equal(b.Harp.Layout))
	var d []float64
	for i := range min(len(a.Events), shiftEvents) {
		for j := range min(len(b.Events), shiftEvents) {
			if same(i, j) {
				d = append(d, a.Events[i].Start-b.Events[j].Start)
			}
		}
	}
	sort.Float64s(d)
	best, most, size := 0.0, 0, math.Inf(1)
	sum, hi := 0.0, 0
	for lo := range d {
		for ; hi < len(d) && d[hi] <= d[lo]+2*onset; hi++ {
			sum += d[hi]
		}
		mean := sum / float64(hi-lo)
		if n := hi - lo; n > most || n == most && math.Abs(mean) < size {
			best, most, size = mean, n, math.Abs(mean)
		}
		sum -= d[lo]
	}
	return best
}
