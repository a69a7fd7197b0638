package study

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"blowdraw/tabber/tab"
)

// Playing says how notes are played.
type Playing struct {
	Often []Measure `json:"often"` // how often a mark is played
	How   []Measure `json:"how"`   // how wide, how fast, how long
	Holes []Measure `json:"holes"` // of the notes on a hole, how many have a mark
}

// sides are what is measured of marks.
var sides = []struct {
	name, unit string
	of         func(tab.Mark) float64
}{
	{"rate", Hz, func(m tab.Mark) float64 { return m.Hz }},
	{"depth", Cents, func(m tab.Mark) float64 { return math.Abs(m.Cents) }},
	{"loudness", "dB", func(m tab.Mark) float64 { return math.Abs(m.DB) }},
	{"time", Seconds, func(m tab.Mark) float64 { return m.Seconds }},
}

// leastMarks is how many a hole's share needs to be named, and leastNotes how many notes.
const (
	leastMarks = 2
	leastNotes = 4
)

// weight is how much a mark counts: with its probability, where one is told.
func weight(m tab.Mark) float64 {
	if m.Confidence > 0 {
		return m.Confidence
	}
	return 1
}

func playing(solos []solo, short bool) Playing {
	out := Playing{Often: []Measure{}, How: []Measure{}, Holes: []Measure{}}
	notes := 0
	for _, s := range solos {
		notes += len(s.sounds)
	}
	for _, w := range tab.MarkWords() {
		if w.Name == tab.OffPitch {
			continue
		}
		var list []weighed
		values := make([][]float64, len(sides))
		n := 0.0
		for _, s := range solos {
			for _, x := range s.sounds {
				m, ok := x.Mark(w.Name)
				if !ok {
					continue
				}
				n += weight(m)
				list = append(list, weighed{x.place, x.seconds() * weight(m)})
				for k, side := range sides {
					if v := side.of(m); v > 0 {
						values[k] = append(values[k], v)
					}
				}
			}
		}
		if n == 0 {
			continue
		}
		places := longest(list)
		out.Often = append(out.Often, Measure{
			Name: w.Name, Value: tidy(100 * n / float64(notes)), Unit: PerHund, N: tidy(n), Places: places,
		})
		for k, side := range sides {
			if len(values[k]) > 0 {
				out.How = append(out.How, spread(w.Name, side.name, values[k], side.unit, float64(len(values[k])),
					places))
			}
		}
		out.Holes = append(out.Holes, onHoles(solos, w.Name, notes, short)...)
	}
	return out
}

// onHoles are the shares of the notes on each hole, with its breath, that have a mark, held
// against the same marks on any of the notes (p for all holes of a mark by Holm).
func onHoles(solos []solo, name string, notes int, short bool) []Measure {
	type hole struct {
		name          string
		number        int
		marked, notes int
		list          []weighed
	}
	var holes []hole
	marked := 0
	for _, s := range solos {
		for _, x := range s.sounds {
			if len(x.Actions) == 0 {
				continue
			}
			a := x.Actions[0]
			is := fmt.Sprintf("%s %d", a.Breath, a.Hole)
			i := slices.IndexFunc(holes, func(h hole) bool { return h.name == is })
			if i < 0 {
				i, holes = len(holes), append(holes, hole{name: is, number: 2*a.Hole + int(a.Breath)})
			}
			holes[i].notes++
			if m, ok := x.Mark(name); ok && weight(m) >= 0.5 {
				holes[i].marked++
				marked++
				holes[i].list = append(holes[i].list, weighed{x.place, x.seconds()})
			}
		}
	}
	slices.SortFunc(holes, func(a, b hole) int { return cmp.Compare(a.number, b.number) })
	var p []float64
	for _, h := range holes {
		p = append(p, Enriched(h.marked, h.notes, marked, notes))
	}
	p = Holm(p)
	var out []Measure
	for i, h := range holes {
		if h.marked < leastMarks || h.notes < leastNotes {
			continue
		}
		m := Measure{
			Name: name, Over: h.name, Value: tidy(float64(h.marked) / float64(h.notes)), Unit: Share,
			N: float64(h.marked), Places: longest(h.list),
		}
		if !short {
			m.P, m.Expected = given(p[i]), given(float64(marked)/float64(notes))
		}
		out = append(out, m)
	}
	return out
}
