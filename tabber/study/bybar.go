package study

import (
	"fmt"
	"math/rand/v2"
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
	form := formTimeOf(solos, sum.FormBars, part, among)
	observed := form.shares()
	out := make([]Measure, sum.FormBars)
	for k := range out {
		out[k] = Measure{
			Name: name, Over: fmt.Sprintf("bar %d", k+1), Value: tidy(observed[k]), Unit: Share,
			N: float64(form.heard(k)), Places: longest(form.places[k]),
		}
	}
	if len(form.choruses) < leastChoruses || sum.Short {
		return out
	}
	p, expected := smallestP(append([][]float64{observed}, form.dealt(draws(number))...))
	for k := range out {
		out[k].P, out[k].Expected = given(p[k]), given(expected[k])
	}
	return out
}

// formTime is how much of the bars of a form is filled, chorus by chorus.
type formTime struct {
	choruses [][]barTime // one for each bar of the form
	places   [][]weighed // of each bar of the form: where it is filled
}

// barTime is how much of a bar is filled and of how much, seconds; of 0 if it was not heard.
type barTime struct{ filled, all float64 }

// formTimeOf solos gathers how much of each bar is filled by parts of sounds: of its own time, or of what
// sounds in it.
func formTimeOf(solos []solo, bars int, part func(sound) float64, among bool) formTime {
	f := formTime{places: make([][]weighed, bars)}
	for _, s := range solos {
		index := map[int]int{} // of a chorus
		for _, b := range s.bars {
			if b.from < s.From-1e-3 || s.To > s.From && b.to > s.To+1e-3 {
				continue // not all of it was heard
			}
			k, ok := index[b.chorus]
			if !ok {
				k, index[b.chorus] = len(f.choruses), len(f.choruses)
				f.choruses = append(f.choruses, make([]barTime, bars))
			}
			filled, sounding := 0.0, 0.0
			for _, x := range s.sounds {
				seconds := max(0, min(x.End, b.to)-max(x.from, b.from))
				filled += seconds * part(x)
				sounding += seconds
			}
			c := &f.choruses[k][b.inForm-1]
			c.filled += filled
			if among {
				c.all += sounding
			} else {
				c.all += b.to - b.from
			}
			if filled > 0 {
				place := placeOf(s.Document, b.from, b.to)
				place.Solo = s.number
				f.places[b.inForm-1] = append(f.places[b.inForm-1], weighed{place, filled})
			}
		}
	}
	return f
}

// shares of each bar of the form that are filled, over all choruses.
func (f formTime) shares() []float64 {
	out := make([]float64, len(f.places))
	for k := range out {
		var sum barTime
		for _, chorus := range f.choruses {
			sum.filled, sum.all = sum.filled+chorus[k].filled, sum.all+chorus[k].all
		}
		if sum.all > 0 {
			out[k] = sum.filled / sum.all
		}
	}
	return out
}

// heard is in how many choruses a bar of the form was heard.
func (f formTime) heard(bar int) int {
	n := 0
	for _, chorus := range f.choruses {
		if chorus[bar].all > 0 {
			n++
		}
	}
	return n
}

// dealt are the shares after each of the permutations but the observed one: the bars of each
// chorus that were heard are dealt out anew among each other.
func (f formTime) dealt(rng *rand.Rand) [][]float64 {
	there := make([][]int, len(f.choruses))
	for i, chorus := range f.choruses {
		for k, c := range chorus {
			if c.all > 0 {
				there[i] = append(there[i], k)
			}
		}
	}
	anew := formTime{choruses: make([][]barTime, len(f.choruses)), places: f.places}
	for i, chorus := range f.choruses {
		anew.choruses[i] = slices.Clone(chorus)
	}
	out := make([][]float64, permutations-1)
	for n := range out {
		for i, chorus := range f.choruses {
			for to, from := range rng.Perm(len(there[i])) {
				anew.choruses[i][there[i][to]] = chorus[there[i][from]]
			}
		}
		out[n] = anew.shares()
	}
	return out
}

// leastChoruses that a bar of the form must be heard in before its place tells anything.
const leastChoruses = 3
