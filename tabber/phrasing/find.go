package phrasing

import (
	"math"

	"blowdraw/onset"
	"blowdraw/pitch"
	"blowdraw/tabber/tab"
)

// Heard is an event with how loud it is.
type Heard struct {
	tab.Event
	Level    float64 // dB of its own partials
	Measured bool    // the level is known
}

// strayDB is how far below the usual event of its section a doubtful event lies
// that is more likely something else, such as a band that plays through a space.
// Chosen on clips of pitch/ear/train/clips.py: there 6 to 10 dB did as well.
const strayDB = 8

// Find groups events by the space between them. Events that begin or end a phrase, or
// make up one, while they are in doubt and much softer than usual do not count, unless
// that would leave none.
func Find(events []Heard) []tab.Phrase {
	var spans [][2]float64
	for _, e := range withoutStrays(events) {
		spans = append(spans, [2]float64{e.Start, e.End})
	}
	var out []tab.Phrase
	for _, p := range onset.Phrases(spans, onset.Space) {
		out = append(out, tab.Phrase{Start: p[0], End: p[1]})
	}
	return out
}

// usualLevel is the median level over time, NaN if nothing was measured.
func usualLevel(events []Heard) float64 {
	var db, seconds []float64
	for _, e := range events {
		if e.Measured {
			db, seconds = append(db, e.Level), append(seconds, e.End-e.Start)
		}
	}
	return pitch.WeightedMedian(db, seconds)
}

func withoutStrays(events []Heard) []Heard {
	usual := usualLevel(events)
	stray := func(e Heard) bool {
		return e.Measured && e.Confidence < tab.SureFrom && e.Level < usual-strayDB
	}
	begins, ends := make([]bool, len(events)), make([]bool, len(events))
	end, edge := math.Inf(-1), true
	for i, e := range events {
		edge = (edge || e.Start-end >= onset.Space) && stray(e)
		begins[i], end = edge, max(end, e.End)
	}
	start, edge := math.Inf(1), true
	for i := len(events) - 1; i >= 0; i-- {
		e := events[i]
		edge = (edge || start-e.End >= onset.Space) && stray(e)
		ends[i], start = edge, e.Start
	}
	var out []Heard
	for i, e := range events {
		if !begins[i] && !ends[i] {
			out = append(out, e)
		}
	}
	if len(out) == 0 {
		return events
	}
	return out
}
