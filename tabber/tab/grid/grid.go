// Package grid lays a tab's events onto beats and bars, and splits them into notes
// that can be written down.
package grid

import (
	"math"
	"slices"

	"blowdraw/tabber/tab"
)

// Unit is the shortest length: a beat has so many. It can be halved three times
// and divided by three.
const Unit = 24

// Grid is where the beats of a tab lie.
type Grid struct {
	Beats    []float64 // seconds, ascending, at least two; beat 0 begins a bar
	PerBar   int       // beats in a bar
	Compound bool      // a beat is three eighths, as in 12/8; otherwise a quarter
	First    int       // number of the bar that beat 0 begins
	Known    bool      // the bars are the tab's own; otherwise they are counted from its first event
}

// usual is the tempo in beats a minute of a tab that names none.
const usual = 120.0

// Of is the grid of a tab. A tab without bar lines gets bars of its meter, or four
// beats, from its first event on, at its tempo or 120 beats a minute.
func Of(d tab.Document) Grid {
	g := Grid{PerBar: d.BeatsInBar(), Compound: d.Meter == "12/8", First: 1}
	beat := 60 / usual
	if d.BPM > 0 {
		beat = 60 / d.BPM
	}
	if len(d.Bars) == 0 {
		first := d.From
		if len(d.Events) > 0 {
			first = d.Events[0].Start
		}
		g.Beats = []float64{first, first + beat}
		return g
	}
	g.Known, g.First = true, d.Bars[0].Number
	for i, b := range d.Bars {
		if i+1 < len(d.Bars) {
			beat = (d.Bars[i+1].Start - b.Start) / float64(g.PerBar)
		}
		for k := range g.PerBar {
			g.Beats = append(g.Beats, b.Start+float64(k)*beat)
		}
	}
	return g
}

// At is the position in beats of a time in seconds. Before the first and after the
// last beat the tempo goes on as it is there.
func (g Grid) At(seconds float64) float64 {
	i, _ := slices.BinarySearch(g.Beats, seconds)
	i = min(max(i-1, 0), len(g.Beats)-2)
	return float64(i) + (seconds-g.Beats[i])/(g.Beats[i+1]-g.Beats[i])
}

// Time is the time in seconds of a position in beats; it undoes [Grid.At].
func (g Grid) Time(beats float64) float64 {
	i := min(max(int(math.Floor(beats)), 0), len(g.Beats)-2)
	return g.Beats[i] + (beats-float64(i))*(g.Beats[i+1]-g.Beats[i])
}

// Span is an event on the grid, in units from beat 0.
type Span struct {
	Event    int // index
	From, To int
}

// Costs of dividing a beat into 1, 2, 3, 4, 6, 8 or 12 parts, against errors in
// beats: the plainer division wins unless the finer lies clearly nearer. Blues is
// phrased in triplets (common practice, no source).
var divisions = []struct {
	parts int
	cost  float64
}{{1, 0}, {2, 0.04}, {3, 0.04}, {4, 0.10}, {6, 0.14}, {8, 0.25}, {12, 0.3}}

// crowded is the cost of two events on one place.
const crowded = 1.0

// leastRest is how many beats of silence are written as a rest; what is shorter belongs to
// the note before.
const leastRest = 0.34

// Spans puts the events onto the grid, in order and one after the other: what
// overlaps the next event is cut there, and short silences are closed. Events that
// start together become one span each at the same place.
func (g Grid) Spans(d tab.Document) []Span {
	starts := g.snap(d)
	triplet := map[int]bool{} // beats
	for _, s := range starts {
		if s%(Unit/8) != 0 {
			triplet[floorDiv(s, Unit)] = true
		}
	}
	out := make([]Span, len(d.Events))
	next := math.MaxInt // the start after
	for i := len(starts) - 1; i >= 0; i-- {
		if i+1 < len(starts) && starts[i+1] > starts[i] {
			next = starts[i+1]
		}
		end := g.At(d.Events[i].End) * Unit
		step := Unit / 4
		if g.Compound || triplet[int(math.Floor(end/Unit))] {
			step = Unit / 3
		}
		to := int(math.Round(end/float64(step))) * step
		if to <= starts[i] {
			to = starts[i] + (step - ((starts[i]%step)+step)%step)
		}
		if to > next || float64(next)-end < leastRest*Unit {
			to = next
		}
		out[i] = Span{i, starts[i], to}
	}
	return out
}

// snap finds the place of each start, in units. Starts that differ by a
// millisecond or more stay in order and apart.
func (g Grid) snap(d tab.Document) []int {
	at := make([]float64, len(d.Events))
	for i, e := range d.Events {
		at[i] = g.At(e.Start)
	}
	out := make([]int, len(at))
	for i := 0; i < len(at); {
		beat := math.Floor(at[i] + 1./16) // a start just before a beat belongs to it
		j := i + 1
		for j < len(at) && math.Floor(at[j]+1./16) == beat {
			j++
		}
		places := divide(at[i:j], beat)
		copy(out[i:], places)
		i = j
	}
	for i := 1; i < len(out); i++ {
		if d.Events[i].Start-d.Events[i-1].Start < 0.001 {
			out[i] = out[i-1]
		} else {
			out[i] = max(out[i], out[i-1]+1)
		}
	}
	return out
}

// divide puts the starts within one beat onto the division that costs least.
func divide(at []float64, beat float64) []int {
	var best []int
	least := math.Inf(1)
	for _, d := range divisions {
		cost := d.cost
		places := make([]int, len(at))
		for i, x := range at {
			part := math.Round((x - beat) * float64(d.parts))
			places[i] = int(beat)*Unit + int(part)*Unit/d.parts
			cost += math.Abs(x - beat - part/float64(d.parts))
			if i > 0 && places[i] <= places[i-1] && x > at[i-1] {
				cost += crowded
			}
		}
		if cost < least {
			best, least = places, cost
		}
	}
	return best
}
