// Package tabber is the conductor: it leads a section of a recording through the rooms
// below it, from sound to a Result and on to a document. Read it in this order.
//
//	tabber.go      what can be asked for, what comes back
//	transcribe.go  the stages of a transcription, window by window, then as a whole
//	document.go    the Result as a document, with what a reader should know of it
//	listen.go      the other ways to listen: judging and refining a written tab,
//	               textures, pitches, the best channel
//
// Each stage is a room of its own: [hearing] (windows, ears, frames), [tuning] (how far the
// recording is off concert pitch), [lattice] (the likeliest states), [reading] (their begins,
// ends, octaves and doubt), [playing] (marks), [presence] (who plays), [phrasing] (phrases),
// [beats] (tempo, bars, form and key), [review] (written tabs).
package tabber

import (
	"fmt"

	"blowdraw/tabber/beats"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/hearing"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/presence"
	"blowdraw/tabber/reading"
	"blowdraw/tabber/tab"
	"blowdraw/tabber/tuning"
)

// Options of a transcription.
type Options struct {
	Overbends bool                  // allow overblows and overdraws
	Blow3     bool                  // let blow 3 compete with draw 2 on equal terms (first-position playing)
	Tuning    *float64              // cents from A4 = 440 Hz; nil: measure
	Written   *float64              // the same as a tab has it, to 0.1 cents: heeded if it is not what is measured
	Ear       string                // "learned" (default) or "classical"
	KeepVoice bool                  // write what is probably a voice as well
	Progress  func(seconds float64) // told how much of the section is done; may be nil

	beats.Asked // of tempo, bars and form
}

// Result is the tab of one section. Times are in seconds from the start of the
// recording.
type Result struct {
	Events      []tab.Event
	Phrases     []tab.Phrase
	TuningCents float64
	From, To    float64
	Stretches   []presence.Stretch // who plays where; nil if the ear can't tell
	LeftOut     []tab.Event        // heard where no harp plays
	Condition   presence.Condition // how hard the recording is; nothing if the ear can't tell

	beats.Found // tempo, bars, form and key
}

// Transcriber turns sound into tab for one harp.
type Transcriber struct {
	opt    Options
	tuner  tuning.Tuner
	reader reading.Reader
}

// NewTranscriber prepares for one harp. It is an error if there is no such ear.
func NewTranscriber(h harp.Harp, opt Options) (*Transcriber, error) {
	ear, err := earOf(opt.Ear)
	if err != nil {
		return nil, err
	}
	reader := reading.New(
		h,
		lattice.Choice{Overbends: opt.Overbends, Blow3: opt.Blow3, Several: ear.Several()},
	)
	return &Transcriber{opt: opt, tuner: tuning.Tuner{Ear: ear, Reader: reader}, reader: reader}, nil
}

// earOf a name.
func earOf(name string) (hearing.Ear, error) {
	switch name {
	case "", "learned":
		return hearing.Learned()
	case "classical":
		return hearing.Classical(), nil
	}
	return hearing.Ear{}, fmt.Errorf("unknown ear %q: want learned or classical", name)
}

// Harp is the one that is listened for.
func (t *Transcriber) Harp() harp.Harp { return t.reader.Harp }
