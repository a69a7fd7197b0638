package tabber

import (
	"math"
	"slices"

	"blowdraw/decode"
	"blowdraw/pitch"
)

// What else is heard near an event has a say in what it is: whether a note is an
// octave is weighed against the notes around it, and an event is the less sure the
// more there is in doubt around it. Near is what begins so many seconds before the
// event's start at most or has ended so many after it, wherever windows begin and end:
// what came before is kept from window to window, what comes after must lie in the
// window itself. 20 and 8 were chosen with the fit of octaves, the bench and the hard
// set of seed 99 in view.
const (
	nearBefore = 20.0
	nearAfter  = 8.0
)

// nearby is what was heard in a window and, as far as it may still be near, before
// it, in order of time.
type nearby struct {
	from   float64 // seconds: what starts before is from windows before
	asked  []question
	doubts []doubt
}

// always is the time from which a first window counts.
var always = nearby{from: math.Inf(-1)}

// when is the time of a span in seconds.
type when struct{ start, end float64 }

// same reports whether two spans start at the same frame.
func (w when) same(o when) bool { return math.Abs(w.start-o.start) < pitch.HopSeconds/2 }

// near reports whether another span counts for this one. Spans are whole frames
// apart, but for rounding.
func (w when) near(o when) bool {
	const half = pitch.HopSeconds / 2
	return w.same(o) || o.start > w.start-nearBefore-half && o.end < w.start+nearAfter+half
}

func whenOf(f pitch.Frames, s span) when { return when{f.Time(s.from), f.Time(s.to)} }

// doubt is in how much doubt rows are during a span: a row of probability 1/2 counts
// as one for each frame, one of 0 or 1 as none.
type doubt struct {
	when
	sum, frames float64
}

func doubtOf(f pitch.Frames, s span) doubt {
	d := doubt{when: whenOf(f, s), frames: float64(s.to - s.from)}
	for _, q := range f.Sounding[s.from*pitch.Rows : s.to*pitch.Rows] {
		d.sum += 4 * float64(q) * (1 - float64(q))
	}
	return d
}

// unsure is the log of how many rows are in doubt at a time near a span, while it or
// another sounds.
func (n nearby) unsure(own doubt) float64 {
	sum, frames := own.sum, own.frames
	for _, d := range n.doubts {
		if own.near(d.when) && !own.same(d.when) {
			sum, frames = sum+d.sum, frames+d.frames
		}
	}
	return math.Log(sum/max(1, frames) + leastDoubtful)
}

// nearby asks about octaves, by which spans are changed in place, and adds what is
// nearby to what was heard in the past.
func (t *Transcriber) nearby(c decode.Clip, f pitch.Frames, spans []span, past nearby) nearby {
	n := nearby{from: past.from, asked: t.octaves(c, f, spans, past), doubts: slices.Clone(past.doubts)}
	for _, s := range spans {
		if d := doubtOf(f, s); d.start >= past.from {
			n.doubts = append(n.doubts, d)
		}
	}
	return n
}

// until is what is left of it for the next window, which counts from a time in
// seconds on and begins no more than settleSeconds before it.
func (n nearby) until(cut float64) nearby {
	kept := func(w when) bool { return w.start < cut && w.start > cut-settleSeconds-nearBefore-1 }
	out := nearby{from: cut}
	for _, q := range n.asked {
		if kept(q.when) {
			out.asked = append(out.asked, q)
		}
	}
	for _, d := range n.doubts {
		if kept(d.when) {
			out.doubts = append(out.doubts, d)
		}
	}
	return out
}
