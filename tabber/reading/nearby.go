package reading

import (
	"math"
	"slices"

	"blowdraw/pitch"
	"blowdraw/tabber/lattice"
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

// Margin is how many seconds on either side the likeliest sequence and its probabilities
// depend on.
const Margin = 2.0

// Behind is how many seconds after its start a window must have heard for an event to be
// what it would be in one piece.
const Behind = nearAfter + Margin

// Nearby is what was heard in a window and, as far as it may still be near, before
// it, in order of time.
type Nearby struct {
	From   float64 // seconds: what starts before is from windows before
	asked  []Question
	doubts []doubt
	known  []answered
}

// Nothing is near a first window, from which all counts.
func Nothing() Nearby { return Nearby{From: math.Inf(-1)} }

// Times are the start and the end of a span in seconds.
type Times struct{ Start, End float64 }

// same reports whether two spans start at the same frame.
func (w Times) same(o Times) bool { return math.Abs(w.Start-o.Start) < pitch.HopSeconds/2 }

// near reports whether another span counts for this one. Spans are whole frames
// apart, but for rounding.
func (w Times) near(o Times) bool {
	const half = pitch.HopSeconds / 2
	return w.same(o) || o.Start > w.Start-nearBefore-half && o.End < w.Start+nearAfter+half
}

func timesOf(f pitch.Frames, s lattice.Span) Times { return Times{f.Time(s.From), f.Time(s.To)} }

// doubt is in how much doubt rows are during a span: a row of probability 1/2 counts
// as one for each frame, one of 0 or 1 as none.
type doubt struct {
	Times
	sum, frames float64
}

func doubtOf(f pitch.Frames, s lattice.Span) doubt {
	d := doubt{Times: timesOf(f, s), frames: float64(s.To - s.From)}
	for _, q := range f.Sounding[s.From*pitch.Rows : s.To*pitch.Rows] {
		d.sum += 4 * float64(q) * (1 - float64(q))
	}
	return d
}

// leastDoubtful rows in doubt at a time keep the logarithm finite.
const leastDoubtful = 0.01

// unsure is the log of how many rows are in doubt at a time near a span, while it or
// another sounds.
func (n Nearby) unsure(own doubt) float64 {
	sum, frames := own.sum, own.frames
	for _, d := range n.doubts {
		if own.near(d.Times) && !own.same(d.Times) {
			sum, frames = sum+d.sum, frames+d.frames
		}
	}
	return math.Log(sum/max(1, frames) + leastDoubtful)
}

// Until is what is left of it for the next window, which counts from a time in
// seconds on and begins no more than Margin before it.
func (n Nearby) Until(seam float64) Nearby {
	kept := func(w Times) bool { return w.Start < seam && w.Start > seam-Margin-nearBefore-1 }
	out := Nearby{From: seam}
	for _, q := range n.asked {
		if kept(q.Times) {
			out.asked = append(out.asked, q)
		}
	}
	for _, d := range n.doubts {
		if kept(d.Times) {
			out.doubts = append(out.doubts, d)
		}
	}
	for _, a := range n.known {
		if kept(a.Times) {
			out.known = append(out.known, a)
		}
	}
	return out
}

// with adds the doubts of a window's spans to those of the past.
func (n Nearby) with(f pitch.Frames, spans []Span) []doubt {
	out := slices.Clone(n.doubts)
	for _, s := range spans {
		if d := doubtOf(f, s.Span); d.Start >= n.From {
			out = append(out, d)
		}
	}
	return out
}
