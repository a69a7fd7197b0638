package tabber

import (
	"math"

	"blowdraw/onset"
	"blowdraw/pitch"
	"blowdraw/tabber/tab"
)

// phrases groups events by the space between them.
func phrases(events []tab.Event) []tab.Phrase {
	spans := make([][2]float64, len(events))
	for i, e := range events {
		spans[i] = [2]float64{e.Start, e.End}
	}
	var out []tab.Phrase
	for _, p := range onset.Phrases(spans, onset.Space) {
		out = append(out, tab.Phrase{Start: p[0], End: p[1]})
	}
	return out
}

// strayDB is how far below the usual event of its section a doubtful event lies
// that is more likely something else, such as a band that plays through a space.
// Chosen on clips of pitch/ear/train/clips.py: there 6 to 10 dB did as well.
const strayDB = 8

// levels holds how loud events are, by their start: dB of their own partials.
type levels map[float64]float64

// add measures the events of one window.
func (l levels) add(t *Transcriber, f pitch.Frames, events []tab.Event) {
	if f.Loud == nil {
		return
	}
	for _, e := range events {
		var rows []int
		for _, a := range e.Actions {
			rows = append(rows, row(t.harp, a))
		}
		if len(rows) == 0 {
			continue
		}
		from := int(math.Round((e.Start - f.Start) / pitch.HopSeconds))
		to := min(int(math.Round((e.End-f.Start)/pitch.HopSeconds)), f.N)
		if from < to {
			l[e.Start] = usualLevel(f, rows, from, to)
		}
	}
}

// usual is the median level over time, NaN if nothing was measured.
func (l levels) usual(events []tab.Event) float64 {
	var db, seconds []float64
	for _, e := range events {
		if v, ok := l[e.Start]; ok {
			db, seconds = append(db, v), append(seconds, e.End-e.Start)
		}
	}
	return pitch.WeightedMedian(db, seconds)
}

// withoutStrays leaves out events that begin or end a phrase, or make up one,
// while they are in doubt and much softer than usual. If that leaves none it
// leaves all.
func (l levels) withoutStrays(events []tab.Event) []tab.Event {
	usual := l.usual(events)
	stray := func(e tab.Event) bool {
		v, ok := l[e.Start]
		return ok && e.Confidence < tab.SureFrom && v < usual-strayDB
	}
	from, to := make([]bool, len(events)), make([]bool, len(events))
	end, edge := math.Inf(-1), true
	for i, e := range events {
		edge = (edge || e.Start-end >= onset.Space) && stray(e)
		from[i], end = edge, max(end, e.End)
	}
	start, edge := math.Inf(1), true
	for i := len(events) - 1; i >= 0; i-- {
		e := events[i]
		edge = (edge || start-e.End >= onset.Space) && stray(e)
		to[i], start = edge, e.Start
	}
	var out []tab.Event
	for i, e := range events {
		if !from[i] && !to[i] {
			out = append(out, e)
		}
	}
	if len(out) == 0 {
		return events
	}
	return out
}
