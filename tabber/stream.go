package tabber

import (
	"context"
	"errors"
	"io"
	"math"
	"sync"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/tab"
)

// Long sections are heard window by window so that memory does not grow with
// their length. A window has the frames that do not depend on what comes after it;
// the next one takes over those that it still needs, and hears only what follows.
// What begins before a cut counts as the earlier window decided it, the rest as the
// later one does. Both decide the same there: behind the cut lies all that is near
// an event, and settleSeconds on either side of that what the likeliest sequence and
// its probabilities depend on.
const (
	windowSeconds = 66
	settleSeconds = 2.0
	jointSeconds  = 5.0 // in which the best place for the cut is looked for
)

// Stream transcribes all of s, which must have been opened at pitch.Rate and
// begin from seconds into the recording. The tuning offset, unless given, is
// measured on the first window that has notes. When the context is done it
// stops with the context's error.
func (t *Transcriber) Stream(ctx context.Context, s *decode.Stream, from float64) (Result, error) {
	return t.stream(ctx, &window{stream: s, start: from, full: windowSeconds * pitch.Rate})
}

// stream transcribes all that goes through the window.
func (t *Transcriber) stream(ctx context.Context, w *window) (Result, error) {
	from := w.start
	r := Result{From: from, TuningCents: math.NaN()}
	o := newOverview()
	defer w.settle()
	for {
		if err := ctx.Err(); err != nil {
			return r, err
		}
		if err := w.fill(); err != nil {
			return r, err
		}
		w.readAhead(ctx)
		keepFrom := o.past.from
		part, f, cut := t.part(w, r.TuningCents, o)
		if !math.IsNaN(part.TuningCents) && len(part.Events) > 0 {
			r.TuningCents = part.TuningCents
		}
		r.Events = appendBetween(r.Events, part.Events, keepFrom, cut)
		if t.opt.Progress != nil {
			t.opt.Progress(w.end() - from)
		}
		if w.ended {
			break
		}
		w.drop(cut-settleSeconds, f)
	}
	r.To = w.end()
	if math.IsNaN(r.TuningCents) {
		r.TuningCents = 0
	}
	t.finish(&r, o)
	return r, nil
}

// window holds the samples at hand of a stream.
type window struct {
	stream  *decode.Stream
	start   float64 // seconds
	full    int     // samples that it may hold
	samples []float64
	known   pitch.Frames // of the first samples, as the window before heard them
	ended   bool

	buffer   []float64
	ahead    []float64 // what was read ahead, in the buffer
	aheadErr error
	reading  sync.WaitGroup
}

// windowOf a clip that is heard at once.
func windowOf(c decode.Clip) *window {
	return &window{start: c.Start, samples: c.Samples, ended: true}
}

func (w *window) clip() decode.Clip {
	return decode.Clip{Rate: pitch.Rate, Start: w.start, Samples: w.samples}
}

func (w *window) end() float64 { return w.start + float64(len(w.samples))/pitch.Rate }

// fill reads until the window is full or the stream ends.
func (w *window) fill() error {
	if cap(w.samples) < w.full {
		w.samples = append(make([]float64, 0, w.full), w.samples...)
	}
	w.settle()
	for len(w.samples) < w.full {
		n, err := w.read(w.samples[len(w.samples):w.full])
		w.samples = w.samples[:len(w.samples)+n]
		if errors.Is(err, io.EOF) {
			w.ended = true
			return nil
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// read takes what was read ahead, then from the stream.
func (w *window) read(dst []float64) (int, error) {
	if len(w.ahead) > 0 {
		n := copy(dst, w.ahead)
		w.ahead = w.ahead[n:]
		return n, nil
	}
	if w.aheadErr != nil {
		return 0, w.aheadErr
	}
	return w.stream.Read(dst)
}

// aheadSeconds is less than a window of windowSeconds ever drops.
const aheadSeconds = 42

// readAhead begins to read what the next window will hold, if this one is full and
// nothing is left from the last time. The stream is free again after settle.
func (w *window) readAhead(ctx context.Context) {
	if w.ended || len(w.ahead) > 0 || w.aheadErr != nil {
		return
	}
	w.reading.Go(func() {
		if w.buffer == nil {
			w.buffer = make([]float64, min(aheadSeconds*pitch.Rate, w.full))
		}
		dst, n := w.buffer, 0
		for n < len(dst) && w.aheadErr == nil && ctx.Err() == nil {
			var k int
			k, w.aheadErr = w.stream.Read(dst[n:min(n+pitch.Rate, len(dst))])
			n += k
		}
		w.ahead = dst[:n]
	})
}

// settle waits until what is read ahead is there.
func (w *window) settle() { w.reading.Wait() }

// dropHops is the number of hops of which windows drop a multiple: the ears and the
// spectra take frames in groups of so many or fewer, so that what they make of a
// frame does not depend on the window.
const dropHops = 32

// drop forgets what lies before the time, or a little less. Of the frames of the
// window those from there on are known to the next one. A window of which nothing can
// be dropped grows.
func (w *window) drop(before float64, f pitch.Frames) {
	hops := int((before-w.start)*pitch.Rate) / (dropHops * pitch.Hop) * dropHops
	hops = min(max(hops, 0), f.N, len(w.samples)/pitch.Hop)
	if hops == 0 {
		w.full *= 2
	}
	w.samples = w.samples[:copy(w.samples, w.samples[hops*pitch.Hop:])]
	w.start += float64(hops*pitch.Hop) / pitch.Rate
	w.known = f.Part(hops, f.N).Then(pitch.Frames{})
}

// joint is the time before which events of a window with frames f, which is not the
// last one, count.
func (w *window) joint(f pitch.Frames, events []tab.Event) float64 {
	hi := f.Time(f.N) - nearAfter - settleSeconds
	return joint(events, hi-jointSeconds, hi, (w.start+hi)/2)
}

// joint is where two windows are best joined between lo and hi: the middle of
// the longest silence, else the last begin of a note, else that of the note which
// lasts all the time if it begins after least, else hi.
func joint(events []tab.Event, lo, hi, least float64) float64 {
	best, longest, begin := hi, 0.0, hi
	end := lo
	for _, e := range events {
		if e.End <= lo || e.Start >= hi {
			continue
		}
		if gap := e.Start - end; gap > longest {
			longest, best = gap, end+gap/2
		}
		if e.Start > lo || e.End >= hi && e.Start > least {
			begin = e.Start
		}
		end = max(end, e.End)
	}
	if gap := hi - end; gap > longest {
		longest, best = gap, end+gap/2
	}
	if longest > 0.1 {
		return best
	}
	return begin - pitch.HopSeconds/2
}

// between are the events that begin in [from, to).
func between(events []tab.Event, from, to float64) []tab.Event {
	var out []tab.Event
	for _, e := range events {
		if e.Start >= from && e.Start < to {
			out = append(out, e)
		}
	}
	return out
}

// appendBetween adds the events that begin in [from, to). A note held over a
// join becomes one again.
func appendBetween(all, part []tab.Event, from, to float64) []tab.Event {
	for _, e := range part {
		if e.End <= from || e.Start >= to {
			continue
		}
		if e.Start < from {
			if n := len(all); n > 0 && tab.Token(all[n-1].Actions) == tab.Token(e.Actions) {
				all[n-1].End = max(all[n-1].End, e.End)
			}
			continue
		}
		all = append(all, e)
	}
	return all
}
