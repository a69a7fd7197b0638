package tabber

import (
	"math"
	"slices"

	"blowdraw/decode"
	"blowdraw/onset"
	"blowdraw/onset/beat"
	"blowdraw/pitch"
	"blowdraw/tabber/tab"
)

// pulse gathers the onset strength of a section, one value a hop, while it is
// heard window by window.
type pulse struct {
	start    float64
	strength []float64
}

// unsettled is the number of frames at the edge of a clip whose strength lacks
// what lies beyond it.
const unsettled = 4

// add takes what is new in a clip, whose frames coincide with those before, and
// returns the strength of the clip alone.
func (p *pulse) add(c decode.Clip) []float64 {
	s := onset.Strength(c.Samples, c.Rate, pitch.Hop)
	if len(p.strength) == 0 {
		p.start, p.strength = c.Start, slices.Clone(s)
		return s
	}
	first := int(math.Round((c.Start - p.start) / pitch.HopSeconds))
	if first >= len(p.strength) {
		return s
	}
	keep := min(first+unsettled, len(p.strength))
	p.strength = append(p.strength[:keep], s[keep-first:]...)
	return s
}

// tempo measures the tempo from all that begins: whoever plays, and the notes
// that were transcribed. If given is above 0 it is the tempo.
func (p *pulse) tempo(events []tab.Event, to, given float64) beat.Result {
	starts := make([]float64, len(events))
	for i, e := range events {
		starts[i] = e.Start
	}
	s := beat.Strength{Start: p.start, Hop: pitch.HopSeconds, Values: p.strength}
	return beat.Find(s, starts, p.start, to, given)
}
