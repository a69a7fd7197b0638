package tabber

import (
	"math"

	"blowdraw/decode"
	"blowdraw/onset"
	"blowdraw/onset/beat"
	"blowdraw/onset/form"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/presence"
	"blowdraw/tabber/tab"
)

// beats gathers what beats and bars are told by, while a section is heard window
// by window: the onset strength, one value a hop, and what a band plays.
type beats struct {
	start    float64
	strength []float32
	band     form.Sound
}

// unsettled is the number of frames at the edge of a clip whose strength lacks
// what lies beyond it.
const unsettled = 4

// add takes what is new in a clip, whose frames coincide with those before.
func (b *beats) add(c decode.Clip) {
	s := onset.Strength(c.Samples, c.Rate, pitch.Hop)
	if len(b.strength) == 0 {
		b.start = c.Start
	}
	first := int(math.Round((c.Start - b.start) / pitch.HopSeconds))
	keep := 0
	if n := len(b.strength); n > 0 && first >= n {
		return
	} else if n > 0 {
		keep = min(first+unsettled, n)
	}
	b.strength = append(b.strength[:keep], s[keep-first:]...)
}

// listen takes in what the band plays in a clip on a recording so many cents off.
func (b *beats) listen(c decode.Clip, cents float64) {
	b.band.Add(c.Samples, c.Rate, c.Start, cents)
}

// put measures tempo, bars and form of a result, up to its end, from all that begins,
// whoever plays, and from the band.
func (b *beats) put(r Result, opt Options, h harp.Harp) Result {
	starts, notes := begun(r)
	s := beat.Strength{Start: b.start, Hop: pitch.HopSeconds, Values: b.strength}
	if len(opt.Taps) > 0 {
		if opt.TapDelay != nil {
			r.TapDelay = *opt.TapDelay
		} else {
			r.TapDelay = beat.TapDelay(opt.Taps, s, starts)
		}
		r.Tempo = beat.Tapped(beat.Earlier(opt.Taps, r.TapDelay), s, starts)
	} else {
		r.Tempo = beat.Find(s, starts, b.start, r.To, opt.BPM)
	}
	if opt.HearKey && opt.SongKey == nil {
		r.Key = KeyOf(h, r.Events, r.TuningCents)
		opt.SongKey = r.Key.or(usualKey(h))
	}
	r.Bars = form.FindBars(b.band, r.Tempo.Beats, notes, form.Options{
		Meter: tab.Meters[opt.Meter], At: opt.BarAt, Fixed: len(opt.Taps) > 0, Steady: opt.BPM > 0, Key: opt.SongKey,
		Alone: r.Condition.HarpDB >= presence.AloneDB,
	})
	if len(opt.Taps) == 0 && opt.BPM == 0 && opt.BarAt == nil {
		r.Tempo = r.Tempo.Moved(r.Bars.Beats)
	}
	r.Tempo = r.Tempo.At(r.Bars.Beats, s, starts)
	if opt.SongKey == nil || r.Bars.Sure < form.SureFrom {
		return r
	}
	if opt.HearKey {
		r.Key = b.keyWithBand(h, r, notes)
		opt.SongKey = r.Key.or(usualKey(h))
	}
	r.Form = form.FindForm(b.band, r.Bars, notes, *opt.SongKey, opt.Forms, r.Bars.One)
	if len(opt.Forms) == 1 && r.Form.Sure < form.SureFrom && r.Bars.One >= 0 {
		r.Form = opt.Forms[0].At(len(r.Bars.Firsts), r.Bars.One)
	}
	return r
}

// begun are the starts of a result's events in seconds, and its notes at concert pitch.
func begun(r Result) (starts []float64, notes []form.Note) {
	starts = make([]float64, len(r.Events))
	for i, e := range r.Events {
		starts[i] = e.Start
		for _, m := range e.Pitches {
			notes = append(notes, form.Note{Start: e.Start, End: e.End, Pitch: m - r.TuningCents/100})
		}
	}
	return starts, notes
}
