package hearing

import (
	"math"

	"blowdraw/pitch"
	"blowdraw/tabber/tab"
)

const (
	seamSeconds = 5.0 // in which the best place for a seam is looked for
	leastGap    = 0.1 // seconds of silence that are one
)

// Seam is the time before which what a window with frames f says counts, and after which
// what the next one says does: the best place among events at which at least behind
// seconds of the frames come after it. Of the last window all counts.
func (w *Window) Seam(f pitch.Frames, events []tab.Event, behind float64) (at float64, last bool) {
	if w.ended {
		return 0, true
	}
	hi := f.Time(f.N) - behind
	return seam(events, hi-seamSeconds, hi, (w.start+hi)/2), false
}

// seam is where two windows are best joined between lo and hi: the middle of
// the longest silence, else the last begin of a note, else that of the note which
// lasts all the time if it begins after least, else hi.
func seam(events []tab.Event, lo, hi, least float64) float64 {
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
	if longest > leastGap {
		return best
	}
	return begin - pitch.HopSeconds/2
}

// Joined are all frames with those of the next window that are new; what sums up a frame is
// left out.
func Joined(all, f pitch.Frames) pitch.Frames {
	f.Whole = nil
	if all.N == 0 {
		return f
	}
	have := min(max(0, all.N-int(math.Round((f.Start-all.Start)/pitch.HopSeconds))), f.N)
	out := all.Then(f.Part(have, f.N))
	out.Axis = f.Axis
	return out
}
