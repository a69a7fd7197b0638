// Package tuning is how a recording of unknown pitch is heard for a harp: at concert pitch
// first, then at the offset measured there, and a semitone from it if the harp would
// otherwise play much that is not on it.
//
// What the reeds alone say of the offset is measured by [hearing.MeasureTuning].
package tuning

import (
	"context"
	"math"

	"blowdraw/decode"
	"blowdraw/decode/parallel"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/hearing"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/presence"
	"blowdraw/tabber/reading"
)

// Offset is how far a recording is off A4 = 440 Hz, if that is known.
type Offset struct {
	Cents float64
	Known bool
}

// At is the known offset of so many cents.
func At(cents float64) Offset { return Offset{cents, true} }

// Given is the offset of so many cents, not known if nil.
func Given(cents *float64) Offset {
	if cents == nil {
		return Offset{}
	}
	return At(*cents)
}

// Tuner hears a recording for one harp, and finds its offset.
type Tuner struct {
	Ear    hearing.Ear
	Reader reading.Reader // for the harp
}

func (t Tuner) harp() harp.Harp { return t.Reader.Harp }

// Hear is what the ear hears of a window, as far as it does not depend on what comes
// after it, at the offset known or measured there, and that offset in cents.
func (t Tuner) Hear(w *hearing.Window, known Offset) (pitch.Frames, float64) {
	if known.Known {
		return w.Hear(t.Ear, t.harp(), known.Cents), known.Cents
	}
	f, cents := t.tuned(w.Clip())
	return w.Final(t.Ear, f), cents
}

// hearUntil is Hear, which is given up when the context is done.
func (t Tuner) hearUntil(
	ctx context.Context,
	w *hearing.Window,
	known Offset,
) (f pitch.Frames, cents float64, err error) {
	type heard struct {
		frames pitch.Frames
		cents  float64
	}
	h, err := parallel.Await(ctx, func() (heard, error) {
		f, cents := t.Hear(w, known)
		return heard{f, cents}, nil
	})
	return h.frames, h.cents, err
}

// HearWritten is Hear beside a tab that has an offset to 0.1 cents: what is measured is
// heeded if it is the same, since that is what the tab was heard at, and otherwise what is
// written. A nil one is not written. When the context is done it stops with the context's
// error.
func (t Tuner) HearWritten(
	ctx context.Context,
	w *hearing.Window,
	known Offset,
	written *float64,
) (f pitch.Frames, cents float64, asWritten bool, err error) {
	f, cents, err = t.hearUntil(ctx, w, known)
	if err != nil || known.Known || written == nil || math.Round(10*cents) == math.Round(10**written) {
		return f, cents, false, err
	}
	x := reading.Sound{Clip: w.Clip(), Frames: f}
	if len(t.Reader.Read(x, reading.Nothing()).Spans) == 0 {
		return f, cents, false, nil // nothing plays yet that tells an offset
	}
	f, cents, err = t.hearUntil(ctx, w, At(*written))
	return f, cents, true, err
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
	hinted      = 0.02 // share of what sounds on rows that the harp lacks from which on who plays is looked at
	suspicious  = 0.05 // share of the playing on notes that the harp lacks from which another reading is tried,
	fewerBy     = 0.05 // and by which it must have less of these,
	naturalBy   = 0.05 // and more natural notes
	leastPlayed = 2.0  // seconds of playing that must have been heard
)

// tuned hears a clip of unknown offset at concert pitch and, as far as needed, at the
// offset measured there; if what the harp plays then is not all on it, also at the
// offsets a semitone away that a record may have.
func (t Tuner) tuned(c decode.Clip) (pitch.Frames, float64) {
	listen := t.Ear.Listener(t.harp(), c)
	f := listen(0)
	cents := t.offBy(f)
	if !t.Ear.Several() {
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
func (t Tuner) offBy(f pitch.Frames) float64 {
	return hearing.MeasureTuning(t.harp(), f).Cents - f.Axis.Cents
}

// aligned hears at an offset in cents and measures there by how much it is off.
func (t Tuner) aligned(
	listen func(cents float64) pitch.Frames,
	cents float64,
) (pitch.Frames, float64) {
	f := listen(cents)
	by := t.offBy(f)
	f.Shift(cents + by)
	return f, cents + by
}

// lacking is the share of what surely sounds on rows that the harp lacks.
func (t Tuner) lacking(f pitch.Frames) float64 {
	var has [pitch.Rows]bool
	for _, a := range t.harp().Actions(false) {
		if r := lattice.Row(t.harp(), a); r >= 0 && r < pitch.Rows {
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
func (t Tuner) tried(c decode.Clip, f pitch.Frames, cents float64) trial {
	r := trial{cents: cents, frames: f}
	events := t.Reader.Events(t.Reader.Read(reading.Sound{Clip: c, Frames: f}, reading.Nothing()))
	var who presence.Track
	heard := who.Add(t.harp(), f, c, events)
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
