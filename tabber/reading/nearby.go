package reading

import (
	"math"

	"blowdraw/pitch"
	"blowdraw/tabber/lattice"
)

// What else is heard near an event has a say in what it is: whether a note is an
// octave is weighed against the notes around it. Near is what begins so many seconds before the
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
	From  float64 // seconds: what starts before is from windows before
	asked []Question
	known []answered
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
	for _, a := range n.known {
		if kept(a.Times) {
			out.known = append(out.known, a)
		}
	}
	return out
}
