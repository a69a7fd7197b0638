package study

import (
	"fmt"
	"slices"
)

// byBar are, for each bar of the form, the share of time of which part is filled by sounds:
// of its own time, or, among is true, of what sounds in it. With three choruses or more it
// is held against the same bars of each chorus in any other order.
func byBar(solos []solo, sum Summary, name string, part func(sound) float64, among bool,
	number uint64) []Measure {
	if sum.FormBars == 0 {
		return nil
	}
	type cell struct{ value, all float64 }
	var choruses [][]cell // of each bar of the form
	lists := make([][]weighed, sum.FormBars)
	for _, s := range solos {
		index := map[int]int{}
		for _, b := range s.bars {
			if b.from < s.From-1e-3 || s.To > s.From && b.to > s.To+1e-3 {
				continue // not all of it was heard
			}
			k, ok := index[b.chorus]
			if !ok {
				k, index[b.chorus] = len(choruses), len(choruses)
				choruses = append(choruses, make([]cell, sum.FormBars))
			}
			c := &choruses[k][b.inForm-1]
			filled := 0.0
			for _, x := range s.sounds {
				seconds := max(0, min(x.End, b.to)-max(x.from, b.from))
				filled += seconds * part(x)
				if among {
					c.all += seconds
				}
			}
			c.value += filled
			if !among {
				c.all += b.to - b.from
			}
			place := placeOf(s.Document, b.from, b.to)
			place.Solo = s.number
			if filled > 0 {
				lists[b.inForm-1] = append(lists[b.inForm-1], weighed{place, filled})
			}
		}
	}
	shares := func() []float64 {
		out := make([]float64, sum.FormBars)
		for k := range out {
			var c cell
			for _, row := range choruses {
				c.value, c.all = c.value+row[k].value, c.all+row[k].all
			}
			if c.all > 0 {
				out[k] = c.value / c.all
			}
		}
		return out
	}
	observed := shares()
	out := make([]Measure, sum.FormBars)
	for k := range out {
		n := 0
		for _, row := range choruses {
			if row[k].all > 0 {
				n++
			}
		}
		out[k] = Measure{
			Name: name, Over: fmt.Sprintf("bar %d", k+1), Value: tidy(observed[k]), Unit: Share,
			N: float64(n), Places: longest(lists[k]),
		}
	}
	if len(choruses) < leastChoruses || sum.Short {
		return out
	}
	rows := [][]float64{observed}
	rng := draws(number)
	// Only bars that are there are dealt out, among each other.
	there := make([][]int, len(choruses))
	for i, row := range choruses {
		for k := range row {
			if row[k].all > 0 {
				there[i] = append(there[i], k)
			}
		}
	}
	kept := make([][]cell, len(choruses))
	for i := range choruses {
		kept[i] = slices.Clone(choruses[i])
	}
	for range permutations - 1 {
		for i := range choruses {
			order := rng.Perm(len(there[i]))
			for to, from := range order {
				choruses[i][there[i][to]] = kept[i][there[i][from]]
			}
		}
		rows = append(rows, shares())
	}
	p, expected := smallestP(rows)
	for k := range out {
		out[k].P, out[k].Expected = given(p[k]), given(expected[k])
	}
	return out
}

// leastChoruses that a bar of the form must be heard in before its place tells anything.
const leastChoruses = 3
