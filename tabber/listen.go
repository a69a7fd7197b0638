package tabber

import (
	"context"
	"math"
	"slices"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/channel"
	"blowdraw/tabber/fit"
	"blowdraw/tabber/hearing"
	"blowdraw/tabber/presence"
	"blowdraw/tabber/reading"
	"blowdraw/tabber/review"
	"blowdraw/tabber/tab"
	"blowdraw/tabber/tuning"
)

// Judge scores the events of a document for the transcriber's harp against a
// recording: all of s, which must have been opened at pitch.Rate and begin from
// seconds into the recording. It hears just what a transcription hears, so that an event
// that a transcription would write has its confidence, its doubts and its other readings.
// When the context is done it stops with the context's error.
func (t *Transcriber) Judge(
	ctx context.Context,
	s *decode.Stream,
	from float64,
	events []tab.Event,
) (review.Verdict, error) {
	return t.judge(ctx, hearing.Stream(s, from, t.opt.Progress), events)
}

func (t *Transcriber) judge(
	ctx context.Context,
	section *hearing.Section,
	events []tab.Event,
) (review.Verdict, error) {
	reader := review.Admitting(t.reader, events)
	admits := len(reader.States) > len(t.reader.States) // what a transcription can't write
	v := review.Verdict{Judgements: make([]review.Judgement, len(events))}
	known, past, pastAdmitted := tuning.Given(t.opt.Tuning), reading.Nothing(), reading.Nothing()
	var all gathered
	var who presence.Track
	for w, err := range section.Windows(ctx) {
		if err != nil {
			return v, err
		}
		f, cents, asWritten, err := t.tuner.HearWritten(ctx, w, known, t.opt.Written)
		if err != nil {
			return v, err
		}
		p := t.partOf(w, f, cents, past, &who)
		x := p.read
		if admits {
			x = reader.Read(x.Sound, pastAdmitted)
			pastAdmitted = x.Near.Until(p.seam)
		}
		v = review.Judge(reader, x, past.From, p.seam, events, v)
		if asWritten || len(p.notes) > 0 {
			known = tuning.At(cents)
		}
		all = all.with(p, past.From)
		past = p.near
		w.Keep(p.seam-reading.Margin, f)
	}
	v.TuningCents = known.Cents
	notes := slices.Concat(all...)
	kept, out := t.sorted(notes, who.Players(forPresence(notes)))
	written, leftOut := eventsOf(heard(withMarks(kept))), eventsOf(heard(withMarks(out)))
	return review.Beside(t.Harp(), v, events, written, leftOut), nil
}

// Refine decides the doubtful events of a document anew, around the settled ones,
// which come back as they are: see [review.Anew]. What is found counts only where the
// document has a doubtful event. The tuning should be that of the document. The recording
// is all of s, which must have been opened at pitch.Rate and begin from seconds into it;
// events outside it come back as they are. When the context is done Refine stops with
// the context's error.
func (t *Transcriber) Refine(
	ctx context.Context,
	s *decode.Stream,
	from float64,
	events []tab.Event,
) ([]review.Decision, error) {
	return t.refine(ctx, from, hearing.Stream(s, from, t.opt.Progress), events)
}

func (t *Transcriber) refine(
	ctx context.Context,
	from float64,
	section *hearing.Section,
	events []tab.Event,
) ([]review.Decision, error) {
	reader := review.Admitting(t.reader, events)
	var settled, found []tab.Event
	for _, e := range events {
		if review.Settled(e) {
			settled = append(settled, e)
		}
	}
	known, past, to := tuning.Given(t.opt.Tuning), reading.Nothing(), from
	for w, err := range section.Windows(ctx) {
		if err != nil {
			return nil, err
		}
		f, cents, asWritten, err := t.tuner.HearWritten(ctx, w, known, t.opt.Written)
		if err != nil {
			return nil, err
		}
		if asWritten {
			known = tuning.At(cents)
		}
		seam := seamOf(w, f, events)
		anew, near := review.Anew(reader, reading.Sound{Clip: w.Clip(), Frames: f}, settled, past)
		for _, e := range anew {
			if e.Start >= past.From && e.Start < seam {
				e.End = min(e.End, w.End())
				found = append(found, e)
			}
		}
		past, to = near.Until(seam), w.End()
		w.Keep(seam-reading.Margin, f)
	}
	return review.Decisions(events, found, from, to), nil
}

// Fit lays notes that were written without times onto a recording, in order: see [fit.Lay].
// The recording is all of s, which must have been opened at pitch.Rate and begin from seconds
// into it; a second of it takes 60 kB of memory. When the context is done Fit stops with the
// context's error.
func (t *Transcriber) Fit(
	ctx context.Context,
	s *decode.Stream,
	from float64,
	notes []tab.Event,
) (fit.Result, error) {
	return t.fit(ctx, from, hearing.Stream(s, from, t.opt.Progress), notes)
}

func (t *Transcriber) fit(
	ctx context.Context,
	from float64,
	section *hearing.Section,
	notes []tab.Event,
) (fit.Result, error) {
	reader := review.Admitting(t.reader, notes)
	known, past := tuning.Given(t.opt.Tuning), reading.Nothing()
	var all pitch.Frames
	var heard []tab.Event
	for w, err := range section.Windows(ctx) {
		if err != nil {
			return fit.Result{}, err
		}
		f, cents := t.tuner.Hear(w, known)
		x := reader.Read(reading.Sound{Clip: w.Clip(), Frames: f}, past)
		events := reader.Events(x)
		seam := seamOf(w, f, events)
		for _, e := range events {
			if e.Start >= past.From && e.Start < seam {
				heard = append(heard, reader.Heard(f, e))
			}
		}
		if len(x.Spans) > 0 {
			known = tuning.At(cents)
		}
		past = x.Near.Until(seam)
		all = hearing.Joined(all, f)
		w.Keep(seam-reading.Margin, f)
	}
	out := fit.Lay(reader, all, notes, heard)
	out.TuningCents = known.Cents
	return out, nil
}

// Hear is what the ear hears of a clip, mono at pitch.Rate, and the tuning offset in cents
// at which it hears it: the one that the options name or the one measured there.
func (t *Transcriber) Hear(c decode.Clip) (f pitch.Frames, cents float64) {
	for w := range hearing.Whole(c).Windows(context.Background()) { // one window, no error
		f, cents = t.tuner.Hear(w, tuning.Given(t.opt.Tuning))
	}
	return f, cents
}

// Textures transcribes a clip, mono at pitch.Rate, with the learned ear, and tells
// for each event on the harp how likely one note, a double stop, a split and a chord
// are.
func (t *Transcriber) Textures(c decode.Clip) reading.Passage {
	f, cents := t.Hear(c)
	x := t.reader.Read(reading.Sound{Clip: c, Frames: f}, reading.Nothing())
	return reading.Passage{Events: t.reader.Textures(x), Cents: cents, Usual: x.Near.UsualAstray()}
}

// overlapSeconds are heard once more by the next window when pitches are followed: the end
// of a window wants to be heard with what follows.
const overlapSeconds = 5.0

// Pitches follows what sounds in a recording: all of s, which must have been opened
// at pitch.Rate and begin from seconds into the recording. Element i is heard
// i*pitch.HopSeconds later: fractional MIDI numbers as they sound, lowest first, none
// where no reed does. When the context is done it stops with the context's error.
func (t *Transcriber) Pitches(ctx context.Context, s *decode.Stream, from float64) ([][]float64, error) {
	return t.pitches(ctx, from, hearing.Stream(s, from, t.opt.Progress))
}

func (t *Transcriber) pitches(
	ctx context.Context,
	from float64,
	section *hearing.Section,
) ([][]float64, error) {
	var out [][]float64
	known := tuning.Given(t.opt.Tuning)
	for w, err := range section.Windows(ctx) {
		if err != nil {
			return out, err
		}
		f, cents, _, err := t.tuner.HearWritten(ctx, w, known, t.opt.Written)
		if err != nil {
			return out, err
		}
		known = tuning.At(cents)
		heard := hearing.Follow(w.Clip(), f)
		if !w.Last() {
			heard = heard[:max(0, len(heard)-int(math.Round(overlapSeconds/pitch.HopSeconds)))]
		}
		have := len(out) - int(math.Round((w.Start()-from)/pitch.HopSeconds))
		out = append(out, heard[min(have, len(heard)):]...)
		w.Keep(f.Time(f.N)-2*overlapSeconds, f)
	}
	return out, nil
}

// BestChannel is the channel of a section of a recording in which the harp is heard best:
// see [channel.Best].
func (t *Transcriber) BestChannel(
	ctx context.Context,
	path string,
	section decode.Options,
) (decode.Channel, error) {
	return channel.Best(ctx, path, section, func(c decode.Clip) []tab.Event { return t.Clip(c).Events })
}
