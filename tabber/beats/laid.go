package beats

import (
	"blowdraw/onset/beat"
	"blowdraw/onset/form"
	"blowdraw/tabber/tab"
)

// leastBar is how much of a bar in seconds must lie within the section.
const leastBar = 0.05

// Laid is a document with the tempo, meter, bars and form that were found. The meter is the one
// given, or if that is empty as it is played. Bar 1 is the one that was given, or else begins the
// form; without a form, the section.
func (f Found) Laid(d tab.Document, meter string) tab.Document {
	d.BPM = f.Tempo.BPM
	if d.Meter = meter; d.Meter == "" {
		d.Meter = "4/4"
		if f.Tempo.Feel == beat.Triplet || f.Tempo.Feel == beat.Swing {
			d.Meter = "12/8"
		}
	}
	if f.Bars.Sure < form.SureFrom {
		d.Meter = meter
		return d
	}
	d.Form = f.Form.Form.Name
	if f.Form.Sure < form.SureFrom {
		d.Form, f.Form = "", form.Place{}
	}
	first := max(1, f.Form.First)
	for i, k := range f.Bars.Firsts {
		at := f.Bars.Beats[k]
		if at < 0 || at >= d.To-leastBar {
			continue
		}
		if i == f.Bars.One {
			first = 1 - len(d.Bars)
		}
		bar := tab.Bar{Start: at, Confidence: f.Bars.Sure}
		if f.Bars.Each != nil {
			bar.Confidence = min(bar.Confidence, f.Bars.Each[i])
		}
		if f.Form.Chords != nil {
			bar.Chord = f.Form.Chords[i]
		}
		d.Bars = append(d.Bars, bar)
	}
	for i := range d.Bars {
		d.Bars[i].Number = first + i
	}
	return d
}
