package tabber

import (
	"math"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/hearing"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/presence"
	"blowdraw/tabber/reading"
)

// offset is how far a recording is off A4 = 440 Hz, if that is known.
type offset struct {
	cents float64
	known bool
}

// given is the offset that the options name.
func (t *Transcriber) given() offset {
	if t.opt.Tuning == nil {
		return offset{}
	}
	return offset{*t.opt.Tuning, true}
}

// hear is what the ear hears of a window, as far as it does not depend on what comes
// after it, at the offset known or measured there, and that offset in cents.
func (t *Transcriber) hear(w *hearing.Window, known offset) (pitch.Frames, float64) {
	if known.known {
		return w.Hear(t.ear, t.Harp(), known.cents), known.cents
	}
	f, cents := t.tuned(w.Clip())
	return w.Final(t.ear, f), cents
}

// hearWritten is hear beside a tab that has an offset to 0.1 cents: what is measured is
// heeded if it is the same, since that is what the tab was heard at, and otherwise what is
// written.
func (t *Transcriber) hearWritten(
	w *hearing.Window,
	known offset,
) (f pitch.Frames, cents float64, asWritten bool) {
	f, cents = t.hear(w, known)
	if known.known || t.opt.Written == nil || math.Round(10*cents) == math.Round(10**t.opt.Written) {
		return f, cents, false
	}
	x := reading.Sound{Clip: w.Clip(), Frames: f}
	if len(t.reader.Read(x, reading.Nothing()).Spans) == 0 {
		return f, cents, false // nothing plays yet that tells an offset
	}
	f, cents = t.hear(w, offset{*t.opt.Written, true})
	return f, cents, true
}

// realign is the offset in cents beyond which hearing again on a shifted axis
// gains something.
const realign = 30

// A record may run up to a semitone fast or slow, but the reeds alone tell an
// offset only to within half a semitone: beyond that everything seems to lie a
// row higher or lower than it does. Which notes the harp has tells the two apart:
// read on the wrong rows, a good share of what a harp surely plays is not on it,
// and much of the rest is bent. A harp read on the wrong rows may not sound like one
// either, so that the readings a semitone away are also tried where no harp seems to
// play. A section of a few seconds may have too few notes to tell.
const (
	mostOff     = 100  // cents
	hinted      = 0.02 // share of what sounds on rows that the harp lacks from which on it is worth a look who plays
	suspicious  = 0.05 // share of the playing on notes that the harp lacks from which on another reading is tried,
	fewerBy     = 0.05 // and by which it must have less of these,
	naturalBy   = 0.05 // and more natural notes
	leastPlayed = 2.0  // seconds of playing that must have been heard
)

// tuned hears a clip of unknown offset at concert pitch and, as far as needed, at the
// offset measured there; if what the harp plays then is not all on it, also at the
// offsets a semitone away that a record may have.
func (t *Transcriber) tuned(c decode.Clip) (pitch.Frames, float64) {
	listen := t.ear.Listener(t.Harp(), c)
	f := listen(0)
	cents := t.offBy(f)
	if !t.ear.Several() {
		return listen(cents), cents
	}
	if math.Abs(cents) > realign {
		f, cents = t.aligned(listen, cents)
	} else {
		f.Shift(cents)
	}
	if t.lacking(f) < hinted {
		return f, cents
	}
	best := t.tried(c, f, cents)
	if best.fits() {
		return f, cents
	}
	for _, rows := range []float64{-1, 1} {
		if off := cents + 100*rows; math.Abs(off) <= mostOff {
			g, off := t.aligned(listen, off)
			if r := t.tried(c, g, off); r.better(best) {
				best = r
			}
		}
	}
	return best.frames, best.cents
}

// offBy is how far in cents the recording is off the frames' axis.
func (t *Transcriber) offBy(f pitch.Frames) float64 {
	return hearing.MeasureTuning(t.Harp(), f).Cents - f.Axis.Cents
}

// aligned hears at an offset in cents and measures there by how much it is off.
func (t *Transcriber) aligned(
	listen func(cents float64) pitch.Frames,
	cents float64,
) (pitch.Frames, float64) {
	f := listen(cents)
	by := t.offBy(f)
	f.Shift(cents + by)
	return f, cents + by
}

// lacking is the share of what surely sounds on rows that the harp lacks.
func (t *Transcriber) lacking(f pitch.Frames) float64 {
	var has [pitch.Rows]bool
	for _, a := range t.Harp().Actions(false) {
		if r := lattice.Row(t.Harp(), a); r >= 0 && r < pitch.Rows {
			has[r] = true
		}
	}
	all, lacks := 0.0, 0.0
	for k, p := range f.Sounding {
		if p > hearing.SurelySounding {
			all++
			if !has[k%pitch.Rows] {
				lacks++
			}
		}
	}
	return lacks / max(all, 1)
}

// trial is what a harp plays if a clip is heard at an offset: seconds, in which
// each event counts by the probability that a harp plays it.
type trial struct {
	cents                    float64
	frames                   pitch.Frames
	played, natural, strange float64
}

// tried weighs what was heard at an offset.
func (t *Transcriber) tried(c decode.Clip, f pitch.Frames, cents float64) trial {
	r := trial{cents: cents, frames: f}
	events := t.reader.Events(t.reader.Read(reading.Sound{Clip: c, Frames: f}, reading.Nothing()))
	var who presence.Track
	heard := who.Add(t.Harp(), f, c, events)
	notes := make([]presence.Event, len(events))
	for i, e := range events {
		notes[i] = presence.Event{Event: e, Heard: heard[i]}
	}
	for i, v := range who.Players(notes).Verdicts {
		e := events[i]
		seconds := v.Harp * (e.End - e.Start)
		r.played += seconds
		switch {
		case len(e.Actions) == 0:
			r.strange += seconds
		case e.Actions[0].Bend == 0:
			r.natural += seconds
		}
	}
	return r
}

// fits reports whether a harp plays, and what is on it.
func (r trial) fits() bool { return r.played >= leastPlayed && r.strange < suspicious*r.played }

// better reports whether a trial is surely better than another. A harp read on the wrong
// rows may not sound like one at all.
func (r trial) better(than trial) bool {
	if than.played < leastPlayed {
		return r.fits() && r.played > than.played+leastPlayed
	}
	return r.played >= leastPlayed && r.strange/r.played < than.strange/than.played-fewerBy &&
		r.natural/r.played > than.natural/than.played+naturalBy
}
