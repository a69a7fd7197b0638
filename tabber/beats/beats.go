// Package beats tells where in the music a recording is, and in what key: tempo, bars, form.
//
// A [Track] gathers what tells it while a section is heard window by window. What is found
// begins with the tempo (package beat), in whose beats bars are looked for (package form),
// whose chords tell the key beside what the harp plays (package whichharp); in that key a
// form is looked for.
package beats

import (
	"math"

	"blowdraw/decode"
	"blowdraw/onset"
	"blowdraw/onset/beat"
	"blowdraw/onset/form"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
	"blowdraw/tabber/whichharp"
)

// Asked is what is said of a section beforehand.
type Asked struct {
	BPM      float64     // beats a minute; 0: measure
	Meter    string      // one of tab.Meters; empty: four beats to the bar
	BarAt    *float64    // when a bar begins, seconds; nil: find out
	Taps     []float64   // beats, seconds, ascending; none: find out
	TapDelay *float64    // by how many seconds the taps are late; nil: find out
	SongKey  *int        // pitch class of the song, for its form; nil: look for none,
	HearKey  bool        // but for the key, which is heard
	Forms    []form.Form // that it may have; if only one, it has that
}

// Heard is what a harp plays in a section.
type Heard struct {
	Harp   harp.Harp
	Events []tab.Event
	Cents  float64 // off A4 = 440 Hz
	To     float64 // seconds: end of the section
	Alone  bool    // whether it plays all but alone
}

// Found is what was found of a section. Times are in seconds from the start of the recording.
type Found struct {
	Tempo    beat.Result
	TapDelay float64 // by how many seconds the taps were taken to be late
	Bars     form.Bars
	Form     form.Place
	Key      whichharp.Key // of the song, if it is heard
}

// Track gathers what beats and bars are told by, while a section is heard window
// by window: the onset strength, one value a hop, and what a band plays.
type Track struct {
	start    float64
	strength []float32
	band     form.Sound
}

// unsettled is the number of frames at the edge of a clip whose strength lacks
// what lies beyond it.
const unsettled = 4

// Add takes what is new in a clip, whose frames coincide with those before.
func (t *Track) Add(c decode.Clip) {
	s := onset.Strength(c.Samples, c.Rate, pitch.Hop)
	if len(t.strength) == 0 {
		t.start = c.Start
	}
	first := int(math.Round((c.Start - t.start) / pitch.HopSeconds))
	keep := 0
	if n := len(t.strength); n > 0 && first >= n {
		return
	} else if n > 0 {
		keep = min(first+unsettled, n)
	}
	t.strength = append(t.strength[:keep], s[keep-first:]...)
}

// Listen takes in what the band plays in a clip on a recording so many cents off.
func (t *Track) Listen(c decode.Clip, cents float64) {
	t.band.Add(c.Samples, c.Rate, c.Start, cents)
}

// Find tempo, bars, form and key from all that begins, whoever plays, and from the band.
func (t *Track) Find(h Heard, asked Asked) Found {
	starts, notes := h.begun()
	s := beat.Strength{Start: t.start, Hop: pitch.HopSeconds, Values: t.strength}
	found := tempo(s, starts, h.To, asked)
	key := asked.SongKey
	hearKey := asked.HearKey && key == nil
	if hearKey {
		found.Key = whichharp.KeyOf(h.Harp, h.Events, h.Cents)
		key = new(found.Key.OrUsual(h.Harp))
	}
	found.Bars = form.FindBars(t.band, found.Tempo.Beats, notes, form.Options{
		Meter: tab.Meters[asked.Meter], At: asked.BarAt, Fixed: len(asked.Taps) > 0, Steady: asked.BPM > 0,
		Key: key, Alone: h.Alone,
	})
	if len(asked.Taps) == 0 && asked.BPM == 0 && asked.BarAt == nil {
		found.Tempo = found.Tempo.Moved(found.Bars.Beats)
	}
	found.Tempo = found.Tempo.At(found.Bars.Beats, s, starts)
	if key == nil || found.Bars.Sure < form.SureFrom {
		return found
	}
	if hearKey {
		found.Key = t.keyWithBand(h, found.Bars, notes)
		key = new(found.Key.OrUsual(h.Harp))
	}
	found.Form = t.form(found.Bars, notes, *key, asked.Forms)
	return found
}

// tempo is measured, or taken from taps, whose delay is measured unless it is told.
func tempo(s beat.Strength, starts []float64, to float64, asked Asked) Found {
	if len(asked.Taps) == 0 {
		return Found{Tempo: beat.Find(s, starts, s.Start, to, asked.BPM)}
	}
	var delay float64
	if asked.TapDelay != nil {
		delay = *asked.TapDelay
	} else {
		delay = beat.TapDelay(asked.Taps, s, starts)
	}
	return Found{Tempo: beat.Tapped(beat.Earlier(asked.Taps, delay), s, starts), TapDelay: delay}
}

// keyWithBand is the key of the song by what is played and by the band's chords, which fit some
// form of the blues in it best.
func (t *Track) keyWithBand(h Heard, bars form.Bars, notes []form.Note) whichharp.Key {
	odds, ok := form.KeyEvidence(t.band, bars, notes, form.Forms())
	if !ok {
		return whichharp.KeyOf(h.Harp, h.Events, h.Cents)
	}
	return whichharp.KeyWithBand(h.Harp, h.Events, h.Cents, odds)
}

// form of bars in a key: the only one that it may have is believed if a bar is told to begin it.
func (t *Track) form(bars form.Bars, notes []form.Note, key int, forms []form.Form) form.Place {
	place := form.FindForm(t.band, bars, notes, key, forms, bars.One)
	if len(forms) == 1 && place.Sure < form.SureFrom && bars.One >= 0 {
		return forms[0].At(len(bars.Firsts), bars.One)
	}
	return place
}

// begun are the starts of the events in seconds, and their notes at concert pitch.
func (h Heard) begun() (starts []float64, notes []form.Note) {
	starts = make([]float64, len(h.Events))
	for i, e := range h.Events {
		starts[i] = e.Start
		for _, m := range e.Pitches {
			notes = append(notes, form.Note{Start: e.Start, End: e.End, Pitch: m - h.Cents/100})
		}
	}
	return starts, notes
}
