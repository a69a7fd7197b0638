package hearing

import (
	"context"
	"errors"
	"io"
	"iter"
	"sync"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
)

// Long sections are heard window by window so that memory does not grow with their
// length. A window has the frames that do not depend on what comes after it; the next
// one takes over those that it still needs, and hears only what follows. It is read
// while one is heard. The events of a section in windows must be those of the same
// section in one piece, but for rounding.
const (
	windowSeconds = 66
	aheadSeconds  = 10 // that are read while a window is heard: less than any window drops
)

// dropHops is the number of hops of which windows drop a multiple: the ears and the
// spectra take frames in groups of so many or fewer, so that what they make of a
// frame does not depend on the window.
const dropHops = 32

// Section is the sound of a section of a recording. It can be gone through once.
type Section struct {
	window   Window
	progress func(seconds float64)
}

// Stream is all of s, which must have been opened at pitch.Rate and begin from seconds
// into the recording. Progress is told how many seconds are done; it may be nil.
func Stream(s *decode.Stream, from float64, progress func(seconds float64)) *Section {
	return StreamBy(s, from, progress, windowSeconds)
}

// StreamBy is [Stream] in windows of so many seconds.
func StreamBy(s *decode.Stream, from float64, progress func(seconds float64), seconds float64) *Section {
	return &Section{Window{stream: s, start: from, full: int(seconds * pitch.Rate)}, progress}
}

// Whole is a clip, mono at pitch.Rate, that is heard at once.
func Whole(c decode.Clip) *Section {
	return &Section{window: Window{start: c.Start, samples: c.Samples, ended: true}}
}

// Windows goes through a section once, in order of time. What each window has made of its
// sound it says with [Window.Keep]; one that keeps nothing is followed by what comes
// after it. It yields an error and ends where reading fails or the context is done. The
// window is overwritten when the next one comes.
func (s *Section) Windows(ctx context.Context) iter.Seq2[*Window, error] {
	return func(yield func(*Window, error) bool) {
		w := &s.window
		from := w.start
		defer w.wait()
		for {
			err := ctx.Err()
			if err == nil {
				err = w.fill()
			}
			if err != nil {
				yield(nil, err)
				return
			}
			w.readAhead(ctx)
			w.keepFrom, w.heard = w.End(), pitch.Frames{}
			if !yield(w, nil) {
				return
			}
			if s.progress != nil {
				s.progress(w.End() - from)
			}
			if w.ended {
				return
			}
			w.drop()
		}
	}
}

// Window holds the samples at hand of a section.
type Window struct {
	stream  *decode.Stream
	start   float64 // seconds
	full    int     // samples that it may hold
	samples []float64
	known   pitch.Frames // of the first samples, as the window before heard them
	ended   bool

	keepFrom float64
	heard    pitch.Frames

	buffer   []float64
	ahead    []float64 // what was read ahead, in the buffer
	aheadErr error
	reading  sync.WaitGroup
}

// Clip is the sound of the window.
func (w *Window) Clip() decode.Clip {
	return decode.Clip{Rate: pitch.Rate, Start: w.start, Samples: w.samples}
}

// Start of the window in seconds from the start of the recording.
func (w *Window) Start() float64 { return w.start }

// End of the window in seconds from the start of the recording.
func (w *Window) End() float64 { return w.start + float64(len(w.samples))/pitch.Rate }

// Last reports whether nothing comes after the window.
func (w *Window) Last() bool { return w.ended }

// Keep says from when on the next window needs this one's sound, in seconds, and what
// was heard of it.
func (w *Window) Keep(from float64, f pitch.Frames) { w.keepFrom, w.heard = from, f }

// Hear is what an ear hears of the window for a harp, cents off A4 = 440 Hz, as far as
// it does not depend on what comes after the window. What the window before heard on the
// same axis is not heard again.
func (w *Window) Hear(e Ear, h harp.Harp, cents float64) pitch.Frames {
	if e.learned == nil || w.known.N == 0 || w.known.Axis.Cents != cents {
		return w.Final(e, e.Listener(h, w.Clip())(cents))
	}
	again := max(0, w.known.N-e.reach()) / dropHops * dropHops // frame from which to hear
	c := w.Clip()
	c.Start, c.Samples = c.Start+float64(again)*pitch.HopSeconds, c.Samples[again*pitch.Hop:]
	new := e.Listener(h, c)(cents)
	return w.Final(e, w.known.Then(new.Part(w.known.N-again, new.N)))
}

// Final are those of the window's frames that do not depend on what comes after it.
func (w *Window) Final(e Ear, f pitch.Frames) pitch.Frames {
	if w.ended {
		return f
	}
	return f.Part(0, max(0, f.N-e.reach()))
}

// fill reads until the window is full or the stream ends.
func (w *Window) fill() error {
	if w.ended {
		return nil
	}
	if cap(w.samples) < w.full {
		w.samples = append(make([]float64, 0, w.full), w.samples...)
	}
	w.wait()
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
func (w *Window) read(dst []float64) (int, error) {
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

// readAhead begins to read what the next window will hold, if this one is full and
// nothing is left from the last time. The stream is free again after wait.
func (w *Window) readAhead(ctx context.Context) {
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

// wait until what is read ahead is there.
func (w *Window) wait() { w.reading.Wait() }

// drop forgets what lies before the time from which the window is kept, or a little
// less. Its frames from there on are known to the next one. A window of which nothing
// can be dropped grows.
func (w *Window) drop() {
	hops := int((w.keepFrom-w.start)*pitch.Rate) / (dropHops * pitch.Hop) * dropHops
	hops = min(max(hops, 0), w.heard.N, len(w.samples)/pitch.Hop)
	if hops == 0 {
		w.full *= 2
	}
	w.samples = w.samples[:copy(w.samples, w.samples[hops*pitch.Hop:])]
	w.start += float64(hops*pitch.Hop) / pitch.Rate
	w.known = w.heard.Part(hops, w.heard.N).Then(pitch.Frames{})
}
