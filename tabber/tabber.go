// Package tabber is the conductor: it leads a section of a recording through the rooms
// below it, from sound to a Result and on to a document. Read it in this order.
//
//	tabber.go      what can be asked for, what comes back
//	transcribe.go  the stages of a transcription, window by window, then as a whole
//	tuning.go      how far the recording is off concert pitch
//	beats.go       tempo, bars and form
//	document.go    the Result as a document, with what a reader should know of it
//	listen.go      the other ways to listen: judging and refining a written tab,
//	               textures, pitches, the best channel
//
// Each stage is a room of its own: [hearing] (windows, ears, frames), [lattice] (the
// likeliest states), [reading] (their begins, ends, octaves and doubt), [playing] (marks),
// [presence] (who plays), [phrasing] (phrases), [review] (written tabs).
package tabber

import (
	"fmt"

	"blowdraw/onset/beat"
	"blowdraw/onset/form"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/hearing"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/presence"
	"blowdraw/tabber/reading"
	"blowdraw/tabber/tab"
)

// Options of a transcription.
type Options struct {
	Overbends bool                  // allow overblows and overdraws
	Blow3     bool                  // let blow 3 compete with draw 2 on equal terms (first-position playing)
	Tuning    *float64              // cents from A4 = 440 Hz; nil: measure
	Written   *float64              // the same as a tab has it, to 0.1 cents: heeded if it is not what is measured
	Ear       string                // "learned" (default) or "classical"
	BPM       float64               // beats a minute; 0: measure
	Meter     string                // one of tab.Meters; empty: four beats to the bar
	BarAt     *float64              // when a bar begins, seconds; nil: find out
	Taps      []float64             // beats, seconds, ascending; none: find out
	TapDelay  *float64              // by how many seconds the taps are late; nil: find out
	KeepVoice bool                  // write what is probably a voice as well
	SongKey   *int                  // pitch class of the song, for its form; nil: look for none,
	HearKey   bool                  // but for the key, which is heard
	Forms     []form.Form           // that it may have; if only one, it has that
	Progress  func(seconds float64) // told how much of the section is done; may be nil
}

// Result is the tab of one section. Times are in seconds from the start of the
// recording.
type Result struct {
	Events      []tab.Event
	Phrases     []tab.Phrase
	Tempo       beat.Result
	TapDelay    float64 // by how many seconds the taps were taken to be late
	Bars        form.Bars
	Form        form.Place
	Key         Key // of the song, if it is heard
	TuningCents float64
	From, To    float64
	Stretches   []presence.Stretch // who plays where; nil if the ear can't tell
	LeftOut     []tab.Event        // heard where no harp plays
	Condition   presence.Condition // how hard the recording is; nothing if the ear can't tell
}

// Transcriber turns sound into tab for one harp.
type Transcriber struct {
	opt    Options
	ear    hearing.Ear
	reader reading.Reader
}

// NewTranscriber prepares for one harp. It is an error if there is no such ear.
func NewTranscriber(h harp.Harp, opt Options) (*Transcriber, error) {
	t := &Transcriber{opt: opt}
	switch opt.Ear {
	case "", "learned":
		e, err := hearing.Learned()
		if err != nil {
			return nil, err
		}
		t.ear = e
	case "classical":
		t.ear = hearing.Classical()
	default:
		return nil, fmt.Errorf("unknown ear %q: want learned or classical", opt.Ear)
	}
	t.reader = reading.New(
		h,
		lattice.Choice{Overbends: opt.Overbends, Blow3: opt.Blow3, Several: t.ear.Several()},
	)
	return t, nil
}

// Harp is the one that is listened for.
func (t *Transcriber) Harp() harp.Harp { return t.reader.Harp }
