package phrasing

import (
	"cmp"
	"math"
	"slices"

	"blowdraw/tabber/tab"
)

// Motif is a phrase, or a part of one, that comes back.
type Motif struct {
	Times     [][2]int // events from, to (exclusive) of each time it occurs, in order
	SameHoles bool     // all times on the same holes; otherwise the same degrees
	Chance    float64  // how many such motifs are expected by chance in as many random notes
}

// Two stretches of events are the same motif if at least leastAlike of their events
// are, in order, and so many so alike are not to be expected by chance.
const (
	leastAlike = 4
	leastKinds = 3    // how often a motif must change its note: a repeated note is none
	mostChance = 0.05 // motifs by chance
	mostLike   = 0.3  // stretches by chance that are as like one as another is
	lookBack   = 2000 // events within which a motif must come back
)

// Recurring finds the motifs of a document: by local alignment of the events with
// themselves (Smith & Waterman 1981), not across phrases. Events are alike if they
// sound the same degrees of the song's key. What an alignment scores is how much
// likelier it is as a repetition than as two stretches of random notes, in log odds;
// the rarer the notes and steps in this document, the more they count, and so do the
// same octave, the same rhythm and a common beginning. How many alignments of that
// score come about by chance follows an extreme-value law (Karlin & Altschul 1990, from
// memory; see decay). The surest come first; a stretch belongs to one motif.
func Recurring(d tab.Document) []Motif {
	pairs := alike(d)
	slices.SortStableFunc(pairs, func(a, b pair) int { return cmp.Compare(b.score, a.score) })
	var out []Motif
	taken := make([]bool, len(d.Events))
	free := func(s [2]int) bool { return !slices.Contains(taken[s[0]:s[1]], true) }
	take := func(s [2]int) {
		for i := s[0]; i < s[1]; i++ {
			taken[i] = true
		}
	}
	for _, p := range pairs {
		if !free(p.a) || !free(p.b) {
			continue
		}
		m := motif(p, pairs, free, len(d.Events))
		if m.Chance > mostChance {
			continue
		}
		for _, s := range m.Times {
			take(s)
		}
		slices.SortFunc(m.Times, func(a, b [2]int) int { return cmp.Compare(a[0], b[0]) })
		m.SameHoles = sameHoles(d, m.Times)
		out = append(out, m)
	}
	return out
}

// motif is what a pair and all other stretches like one of the two make up, of n events.
func motif(p pair, pairs []pair, free func([2]int) bool, n int) Motif {
	m := Motif{Times: [][2]int{p.a, p.b}}
	apart := func(s [2]int) bool {
		overlaps := func(t [2]int) bool { return s[0] < t[1] && t[0] < s[1] }
		return free(s) && !slices.ContainsFunc(m.Times, overlaps)
	}
	m.Chance = float64(n) * byChance(p.score, n) / 2
	for _, q := range pairs { // the likest first
		other := q.b
		if covers(p, q.b) {
			other = q.a
		} else if !covers(p, q.a) {
			continue
		}
		if !apart(other) {
			continue
		}
		// Of the stretches at a place of this one, k are as like as the one least like.
		k, expected := float64(len(m.Times)), byChance(q.score, n)*float64(p.a[1]-p.a[0])
		many := groups * float64(n) * math.Exp(k*math.Log(expected)-lgamma(k+2))
		if many > mostChance && expected > mostChance {
			break
		}
		m.Times = append(m.Times, other)
		m.Chance = min(m.Chance, many)
	}
	return m
}

// byChance is how many of n stretches are expected to be as like a given one as the
// score says.
func byChance(score float64, n int) float64 { return chanceK * float64(n) * math.Exp(-decay*score) }

func lgamma(x float64) float64 {
	v, _ := math.Lgamma(x)
	return v
}

// pair is two stretches of events that are alike.
type pair struct {
	a, b  [2]int
	score float64 // log odds
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

// alike lists the best alignments of the events with later ones.
func alike(d tab.Document) []pair {
	phrase := phrasesOf(d)
	var out []pair
	for _, octaves := range []bool{true, false} {
		for _, rhythm := range []bool{true, false} {
			l := newLikeness(d, phrase, octaves, rhythm)
			out = append(out, l.align(phrase)...)
		}
	}
	return out
}

// align lists alignments by Smith & Waterman's recursion. Cells lie by how much later
// the second event is.
func (l *likeness) align(phrase []int) []pair {
	n := len(phrase)
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
			same := l.symbols[i] == l.symbols[j]
			if !same && diagonal.alike == 0 && above[late+1].alike == 0 && left.alike == 0 {
				continue
			}
			c := l.next(diagonal, above[late+1], left, i, j)
			row[late] = c
			longer := goesOn(i) && goesOn(j) && l.symbols[i+1] == l.symbols[j+1]
			if c.alike >= leastAlike && c.kinds >= leastKinds && same && i < c.b && !longer {
				score := c.score + l.end[both(l.ends[i], l.ends[j])]
				if byChance(score, n) < mostLike {
					out = append(out, pair{[2]int{c.a, i + 1}, [2]int{c.b, j + 1}, score})
				}
			}
		}
		above, row = row, above
	}
	return out
}

// next is the best alignment that ends with events i and j.
func (l *likeness) next(diagonal, above, left cell, i, j int) cell {
	same := l.symbols[i] == l.symbols[j]
	best := cell{}
	if diagonal.alike > 0 {
		best = diagonal
		best.score += l.repeated(i, j, true)
	}
	if same {
		if start := l.begin(i, j); best.alike == 0 || start >= best.score {
			best = cell{score: start, a: i, b: j}
		}
		best.alike++
		if best.alike == 1 || l.symbols[i] != l.symbols[i-1] {
			best.kinds++
		}
	}
	for _, c := range []cell{above, left} {
		if c.alike > 0 && (best.alike == 0 || c.score+logAdded > best.score) {
			best = c
			best.score += logAdded
		}
	}
	if best.score < least {
		return cell{}
	}
	return best
}

// least is the score below which an alignment had better begin anew.
const least = -4.0

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
