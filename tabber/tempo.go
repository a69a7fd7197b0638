package tabber

import (
	"math"

	"blowdraw/decode"
	"blowdraw/onset"
	"blowdraw/onset/beat"
	"blowdraw/onset/form"
	"blowdraw/pitch"
	"blowdraw/tabber/presence"
	"blowdraw/tabber/tab"
)

// pulse gathers what beats and bars are told by, while a section is heard window
// by window: the onset strength, one value a hop, and what a band plays.
type pulse struct {
	start    float64
	strength []float32
	band     form.Sound
}

// unsettled is the number of frames at the edge of a clip whose strength lacks
// what lies beyond it.
const unsettled = 4

// add takes what is new in a clip, whose frames coincide with those before, and
// returns the strength of the clip alone.
func (p *pulse) add(c decode.Clip) []float32 {
	s := onset.Strength(c.Samples, c.Rate, pitch.Hop)
	if len(p.strength) == 0 {
		p.start = c.Start
	}
	first := int(math.Round((c.Start - p.start) / pitch.HopSeconds))
	keep := 0
	if n := len(p.strength); n > 0 && first >= n {
		return s
	} else if n > 0 {
		keep = min(first+unsettled, n)
	}
	p.strength = p.strength[:keep]
	p.strength = append(p.strength, s[keep-first:]...)
	return s
}

// listen takes in what the band plays in a clip, given the recording's tuning.
func (p *pulse) listen(c decode.Clip, cents float64) {
	if math.IsNaN(cents) {
		cents = 0
	}
	p.band.Add(c.Samples, c.Rate, c.Start, cents)
}

// finish measures tempo and bars of a result, up to its end, from all that begins,
// whoever plays, and from the band.
func (p *pulse) finish(r *Result, opt Options) {
	starts := make([]float64, len(r.Events))
	var notes []form.Note
	for i, e := range r.Events {
		starts[i] = e.Start
		for _, m := range e.Pitches {
			notes = append(notes, form.Note{Start: e.Start, End: e.End, Pitch: m - r.TuningCents/100})
		}
	}
	s := beat.Strength{Start: p.start, Hop: pitch.HopSeconds, Values: p.strength}
	if len(opt.Taps) > 0 {
		r.Tempo = beat.Tapped(opt.Taps, s, starts)
	} else {
		r.Tempo = beat.Find(s, starts, p.start, r.To, opt.BPM)
	}
	r.Bars = form.FindBars(p.band, r.Tempo.Beats, notes, form.Options{
		Meter: tab.Meters[opt.Meter], At: opt.BarAt, Fixed: len(opt.Taps) > 0, Steady: opt.BPM > 0, Key: opt.SongKey,
		Alone: r.Condition.HarpDB >= presence.AloneDB,
	})
	if len(opt.Taps) == 0 && opt.BPM == 0 && opt.BarAt == nil {
		r.Tempo = r.Tempo.Moved(r.Bars.Beats)
	}
	r.Tempo = r.Tempo.At(r.Bars.Beats, s, starts)
	if opt.SongKey == nil || r.Bars.Sure < form.SureFrom {
		return
	}
	r.Form = form.FindForm(p.band, r.Bars, notes, *opt.SongKey, opt.Forms, r.Bars.One)
	if len(opt.Forms) == 1 && r.Form.Sure < form.SureFrom && r.Bars.One >= 0 {
		r.Form = opt.Forms[0].At(len(r.Bars.Firsts), r.Bars.One)
	}
}

// leastBar is how much of a bar in seconds must lie within the section.
const leastBar = 0.05

// PutBars writes tempo, meter, bars and form of a result into its document; the meter
// is the one given, or as it is played. Bar 1
// is the one at barAt, or else begins the form; without a form, the section.
func (r Result) PutBars(d *tab.Document, meter string) {
	d.BPM = r.Tempo.BPM
	if d.Meter = meter; d.Meter == "" {
		d.Meter = "4/4"
		if r.Tempo.Feel == beat.Triplet || r.Tempo.Feel == beat.Swing {
			d.Meter = "12/8"
		}
	}
	if r.Bars.Sure < form.SureFrom {
		d.Meter = meter
		return
	}
	d.Form = r.Form.Form.Name
	if r.Form.Sure < form.SureFrom {
		d.Form, r.Form = "", form.Place{}
	}
	first := max(1, r.Form.First)
	for i, k := range r.Bars.Firsts {
		at := r.Bars.Beats[k]
		if at < 0 || at >= d.To-leastBar {
			continue
		}
		if i == r.Bars.One {
			first = 1 - len(d.Bars)
		}
		bar := tab.Bar{Start: at}
		if r.Form.Chords != nil {
			bar.Chord = r.Form.Chords[i]
		}
		d.Bars = append(d.Bars, bar)
	}
	for i := range d.Bars {
		d.Bars[i].Number = first + i
	}
}
