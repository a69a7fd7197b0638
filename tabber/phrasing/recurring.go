package phrasing

import (
	"cmp"
	"slices"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// Motif is a phrase, or a part of one, that comes back.
type Motif struct {
	Times     [][2]int // events from, to (exclusive) of each time it occurs, in order
	SameHoles bool     // all times on the same holes; otherwise the same degrees
}

// Two stretches of events are the same motif if at least leastAlike of their events
// are, in order. An event changed, left out or put in between costs otherEvent.
const (
	leastAlike = 4
	otherEvent = 1.5
	lookBack   = 2000 // events within which a motif must come back
)

// Recurring finds the motifs of a document: by local alignment of the events with
// themselves (Smith & Waterman 1981), not across phrases and whatever the rhythm.
// Events are alike if they sound the same degrees of the song's key. The longest
// come first; a stretch belongs to one motif.
func Recurring(d tab.Document) []Motif {
	pairs := alike(d)
	slices.SortStableFunc(pairs, func(a, b pair) int { return cmp.Compare(b.score, a.score) })
	var out []Motif
	taken := make([]bool, len(d.Events))
	free := func(s [2]int) bool { return !slices.Contains(taken[s[0]:s[1]], true) }
	take := func(m *Motif, s [2]int) {
		m.Times = append(m.Times, s)
		for i := s[0]; i < s[1]; i++ {
			taken[i] = true
		}
	}
	for _, p := range pairs {
		if !free(p.a) || !free(p.b) {
			continue
		}
		var m Motif
		take(&m, p.a)
		take(&m, p.b)
		for _, q := range pairs { // what else is like one of the two
			switch {
			case covers(p, q.a) && free(q.b):
				take(&m, q.b)
			case covers(p, q.b) && free(q.a):
				take(&m, q.a)
			}
		}
		slices.SortFunc(m.Times, func(a, b [2]int) int { return cmp.Compare(a[0], b[0]) })
		m.SameHoles = sameHoles(d, m.Times)
		out = append(out, m)
	}
	return out
}

// pair is two stretches of events that are alike.
type pair struct {
	a, b  [2]int
	score float64
}

// covers reports whether a stretch lies mostly in one of the pair's, and is most of
// it.
func covers(p pair, s [2]int) bool {
	for _, x := range [][2]int{p.a, p.b} {
		shared := min(x[1], s[1]) - max(x[0], s[0])
		if 4*shared >= 3*max(x[1]-x[0], s[1]-s[0]) {
			return true
		}
	}
	return false
}

// cell is the best alignment that ends with two events.
type cell struct {
	score        float64
	a, b         int // where it begins
	alike, kinds int // events that are alike, and those of them unlike the one before
}

// alike lists the best alignments of the events with later ones. Cells lie by how
// much later the second event is.
func alike(d tab.Document) []pair {
	degrees, phrase := degreesOf(d), phrasesOf(d)
	n := len(degrees)
	reach := min(n, lookBack)
	var out []pair
	goesOn := func(i int) bool { return i+1 < n && phrase[i+1] == phrase[i] }
	above, row := make([]cell, reach+2), make([]cell, reach+2)
	for i := range n {
		clear(row)
		if i > 0 && !goesOn(i-1) {
			clear(above)
		}
		for late := 1; late <= reach && i+late < n; late++ {
			j := i + late
			diagonal, left := above[late], row[late-1]
			if !goesOn(j - 1) {
				diagonal, left = cell{}, cell{}
			}
			c := next(diagonal, above[late+1], left, i, j, degrees)
			row[late] = c
			longer := goesOn(i) && goesOn(j) && degrees[i+1] == degrees[j+1]
			if c.alike >= leastAlike && c.kinds >= leastKinds && degrees[i] == degrees[j] && i < c.b && !longer {
				out = append(out, pair{[2]int{c.a, i + 1}, [2]int{c.b, j + 1}, c.score})
			}
		}
		above, row = row, above
	}
	return out
}

// leastKinds is how often a motif must change its note: a repeated note is none.
const leastKinds = 3

// next is the best alignment that ends with events i and j.
func next(diagonal, above, left cell, i, j int, degrees []string) cell {
	best := cell{}
	if degrees[i] == degrees[j] {
		best = diagonal
		if best.alike == 0 {
			best = cell{a: i, b: j}
		}
		best.score++
		best.alike++
		if best.alike == 1 || degrees[i] != degrees[i-1] {
			best.kinds++
		}
	} else if diagonal.score > otherEvent {
		best = diagonal
		best.score -= otherEvent
	}
	for _, c := range []cell{above, left} {
		if c.score-otherEvent > best.score {
			best = c
			best.score -= otherEvent
		}
	}
	return best
}

// degreesOf each event, as one word.
func degreesOf(d tab.Document) []string {
	out := make([]string, len(d.Events))
	for i, e := range d.Events {
		for _, a := range e.Actions {
			out[i] += harp.Degree(d.Harp.MIDI(a), d.SongKey) + " "
		}
		if len(e.Actions) == 0 {
			out[i] = string(rune(i)) // like no other
		}
	}
	return out
}

// phrasesOf is the number of the phrase that each event is in.
func phrasesOf(d tab.Document) []int {
	out := make([]int, len(d.Events))
	all, k := spans(d), 0
	for i, e := range d.Events {
		for k < len(all) && all[k][0] <= e.Start {
			k++
		}
		out[i] = k
	}
	return out
}

// sameHoles reports whether the stretches are the same tab.
func sameHoles(d tab.Document, times [][2]int) bool {
	tokens := func(s [2]int) (out []string) {
		for _, e := range d.Events[s[0]:s[1]] {
			out = append(out, tab.Token(e.Actions))
		}
		return out
	}
	first := tokens(times[0])
	return !slices.ContainsFunc(times[1:], func(s [2]int) bool { return !slices.Equal(tokens(s), first) })
}
