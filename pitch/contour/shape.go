package contour

import (
	"math"
	"slices"

	"blowdraw/pitch"
)

// Slide is a movement of the pitch: Cents from where it begins, or for a dip to
// its deepest point, and how many Seconds it takes. Even is, for scoops and falls,
// the way from end to end as a share of all movement there, each moment counting as loud
// as it is: 1 where the pitch never turns back.
type Slide struct{ Cents, Seconds, Even float64 }

const (
	dipBeside     = 0.06 // s that a note is there before and after it dips
	edgeSeconds   = 0.3  // scoops and falls take no longer
	attackSeconds = 0.12 // in which a note is at its level for the first time
	otherSeconds  = 0.06 // in which the note before may still be heard
	jump          = 60.0 // cents a frame that no slide moves: another note
	near          = 12.0 // cents from the steady pitch that count as there
	audible       = 12.0 // dB under the steady level from which a slide is heard
)

// Steady is the pitch in cents and the level in dB that the note settles at: the
// medians without its first and last parts.
func (l Line) Steady() (cents, level float64) {
	n := len(l.Cents)
	var c []float64
	var w []float64
	var v []float32
	for i := n / 4; i < n-n/6; i++ {
		c, w, v = append(c, l.Cents[i]), append(w, math.Pow(10, l.Level[i]/20)), append(v, float32(l.Level[i]))
	}
	return pitch.WeightedMedian(c, w), pitch.Percentile(v, 0.5)
}

// Scoop is the slide up into the note at the front of the line, and its weight: the
// area in cents times seconds between it and the steady pitch, each moment counting
// as loud as it is. A reed that starts out of tune for a moment has a small one.
func (l Line) Scoop() (s Slide, weight float64) {
	steady, _ := l.Steady()
	reach := min(frames(edgeSeconds), 2*len(l.Cents)/3)
	if reach < 2 {
		return s, 0
	}
	speaks, full := 0, slices.Max(l.Level[:min(reach, frames(attackSeconds))]) // level near the front
	for i, v := range l.Level[:min(reach, frames(otherSeconds))] {
		if v < full-audible && v < l.Level[speaks] { // what was louder before is another note
			speaks = i
		}
	}
	full = slices.Max(l.Level[speaks:min(reach, speaks+frames(attackSeconds))])
	for l.Level[speaks] < full-audible {
		speaks++
	}
	deepest := speaks
	for i := speaks + 1; i < min(speaks+reach/2, reach); i++ {
		switch step := l.Cents[i] - l.Cents[i-1]; {
		case step <= -jump && i-speaks <= frames(otherSeconds): // until here it was the note before
			speaks, deepest = i, i
		case l.Cents[i] < l.Cents[deepest] && step < jump:
			deepest = i
		}
	}
	arrived := deepest
	for arrived < reach && l.Cents[arrived] < steady-near {
		arrived++
	}
	up, way := 0.0, 1e-9
	for i := arrived - 1; i >= speaks && l.Cents[i] < steady && l.Cents[i+1]-l.Cents[i] < jump; i-- {
		below, step, power := steady-l.Cents[i], l.Cents[i+1]-l.Cents[i], min(1, math.Pow(10, (l.Level[i]-full)/10))
		up, way = up+power*step, way+power*math.Abs(step)
		s = Slide{max(s.Cents, below), float64(arrived-i) * pitch.HopSeconds, max(0, up) / way}
		weight += max(0, below-near) * pitch.HopSeconds * power
	}
	return s, weight
}

// Fall is the slide down out of the note at the end of the line, with its weight.
func (l Line) Fall() (s Slide, weight float64) { return l.reversed().Scoop() }

// From leaves out the first n frames.
func (l Line) From(n int) Line { return Line{l.First + n, l.Cents[n:], l.Level[n:]} }

func (l Line) reversed() Line {
	n := len(l.Cents)
	r := Line{Cents: make([]float64, n), Level: make([]float64, n)}
	for i := range n {
		r.Cents[i], r.Level[i] = l.Cents[n-1-i], l.Level[n-1-i]
	}
	return r
}

// Glide is the slide from the pitch at the front of the line to that at its end:
// cents up, and the time from a tenth of the way to nine tenths.
func (l Line) Glide() Slide {
	n := len(l.Cents)
	side := max(1, n/4)
	from, to := pitch.Median(l.Cents[:side]), pitch.Median(l.Cents[n-side:])
	way := func(i int) float64 { return (l.Cents[i] - from) / (to - from) }
	begin, end := 0, 0
	for i := 1; i < n; i++ {
		if end == 0 && way(i) < 0.1 {
			begin = i
		}
		if end == 0 && way(i) > 0.9 {
			end = i
		}
	}
	return Slide{Cents: to - from, Seconds: max(0, float64(end-begin)) * pitch.HopSeconds}
}

// Dip is the greatest passing movement down and back inside the line, with its
// weight. The note is there before and after, and not above itself as in a vibrato.
func (l Line) Dip() (best Slide, weight float64) {
	steady, _ := l.Steady()
	beside := frames(dipBeside)
	for from := beside; from < len(l.Cents); from++ {
		to := from
		for to < len(l.Cents) && l.Cents[to] < steady-2*near {
			to++
		}
		if to > from && to+beside <= len(l.Cents) && to-from < frames(edgeSeconds) {
			s, w := l.below(from, to, steady)
			around := append(append([]float64(nil), l.Cents[from-beside:from]...), l.Cents[to:to+beside]...)
			level := slices.Min(around) > steady-2*near && slices.Max(around) < steady+s.Cents/3
			if level && w > weight {
				best, weight = s, w
			}
		}
		from = to
	}
	return best, weight
}

// below is how deep and long the frames [from, to) are below the steady pitch, and
// the area of that; it is zero where the line breaks.
func (l Line) below(from, to int, steady float64) (s Slide, weight float64) {
	for i := from; i < to; i++ {
		if math.Abs(l.Cents[i]-l.Cents[i-1]) > jump {
			return Slide{}, 0
		}
		s.Cents = max(s.Cents, steady-l.Cents[i])
		weight += (steady - l.Cents[i] - near) * pitch.HopSeconds
	}
	s.Seconds = float64(to-from) * pitch.HopSeconds
	return s, weight
}

// Rough is the median movement of the pitch in cents from frame to frame against its
// neighbours' mean in the steady part: what noise and other reeds do to the line.
func (l Line) Rough() float64 {
	n := len(l.Cents)
	var off []float64
	for i := max(1, n/4); i < min(n-1, n-n/6); i++ {
		off = append(off, math.Abs(l.Cents[i]-(l.Cents[i-1]+l.Cents[i+1])/2))
	}
	if len(off) == 0 {
		return 0
	}
	return pitch.Median(off)
}

// frames is how many frames come nearest to a time.
func frames(seconds float64) int { return int(math.Round(seconds / pitch.HopSeconds)) }
