package tabber

import (
	"blowdraw/onset/beat"
	"blowdraw/onset/form"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/presence"
	"blowdraw/tabber/tab"
)

// Document is the result as the tab of a recording for a harp. Notes says in front of it
// what a reader should know. The meter is the one given, or as it is played; the key of the song
// is the one heard, or the usual one; channel and ear are left to who knows them.
func (r Result) Document(recording string, h harp.Harp, meter string, notes []string) tab.Document {
	d := tab.Document{
		Recording: recording, From: r.From, To: r.To, Harp: h,
		TuningCents: r.TuningCents, Events: r.Events, Phrases: r.Phrases, Notes: notes,
	}
	d.SongKey, d.SongAssumed = *r.Key.or(usualKey(h)), !r.Key.Likely()
	d = r.withBars(d, meter)
	for _, g := range r.Gaps() {
		d.AddGap(g)
	}
	return d
}

// leastBar is how much of a bar in seconds must lie within the section.
const leastBar = 0.05

// withBars is a document with tempo, meter, bars and form of the result. Bar 1 is the one
// that was given, or else begins the form; without a form, the section.
func (r Result) withBars(d tab.Document, meter string) tab.Document {
	d.BPM = r.Tempo.BPM
	if d.Meter = meter; d.Meter == "" {
		d.Meter = "4/4"
		if r.Tempo.Feel == beat.Triplet || r.Tempo.Feel == beat.Swing {
			d.Meter = "12/8"
		}
	}
	if r.Bars.Sure < form.SureFrom {
		d.Meter = meter
		return d
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
		bar := tab.Bar{Start: at, Confidence: r.Bars.Sure}
		if r.Bars.Each != nil {
			bar.Confidence = min(bar.Confidence, r.Bars.Each[i])
		}
		if r.Form.Chords != nil {
			bar.Chord = r.Form.Chords[i]
		}
		d.Bars = append(d.Bars, bar)
	}
	for i := range d.Bars {
		d.Bars[i].Number = first + i
	}
	return d
}

// A gap is told if it is long, or if notes were left out of it.
const (
	leastVoice = 2.0 // seconds
	leastGap   = 8.0
)

// Gaps are the stretches worth telling in which no harp plays.
func (r Result) Gaps() []tab.Gap {
	var out []tab.Gap
	for _, s := range r.Stretches {
		if s.Kind == presence.Harp {
			continue
		}
		g := tab.Gap{Start: max(s.Start, r.From), End: min(s.End, r.To), Voice: s.Kind == presence.Voice}
		for _, e := range r.LeftOut {
			if mid := (e.Start + e.End) / 2; mid >= s.Start && mid < s.End {
				g.LeftOut++
			}
		}
		least := leastGap
		if g.Voice {
			least = leastVoice
		}
		if g.LeftOut > 0 || g.End-g.Start >= least {
			out = append(out, g)
		}
	}
	return out
}
