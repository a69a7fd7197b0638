package presence

import (
	"math"

	"blowdraw/decode"
	"blowdraw/decode/fft"
	"blowdraw/pitch"
)

// A section is looked at in blocks, one every blockFrames frames, each with
// blockReach frames of context on either side.
const (
	blockFrames  = 22 // 0.26 s
	blockReach   = 44 // 0.51 s
	blockSeconds = blockFrames * pitch.HopSeconds
)

// cue is one thing about a block that tells who plays. First come the traits of
// its events, each times the share of the block that the event fills, summed, and
// the traits' means over the events; then these, whose means are over its frames.
type cue int

const traitMeans = cue(traitCount)

const (
	filled   cue = 2*cue(traitCount) + iota // share of the block that events fill
	surest                                  // log odds of the row that most surely sounds
	breath                                  // log odds that anyone breathes
	doubtful                                // log of how many rows are in doubt at a time
	above                                   // dB over the quietest twentieth of the frames
	pulsing                                 // dB, standard deviation of the level
	gliding                                 // cents that the strongest partials move from frame to frame
	colour                                  // octaves, standard deviation of the spectral centroid
	flat                                    // dB, spectral flatness
	cueCount
)

type cues [cueCount]float64

// leastFilled is the share of a block that its events fill at least when their
// mean is taken.
const leastFilled = 0.1

// sketch is what the cues take from a single frame.
type sketch struct {
	surest, breath, doubt, level, glide, centroid, flatness float64

	whole float64 // dB below full scale, of all that sounds
}

// Windows overlap. At their ends the ear lacks what lies beyond, so that each window
// counts from a while after its start on.
const (
	unsettled    = 4                           // frames at the edge of a window that lack what lies beyond
	settleFrames = 4 * pitch.Rate / pitch.Hop  // frames after its start from which a window counts if it can
	recentFrames = 15 * pitch.Rate / pitch.Hop // frames that a later window may say again
)

// sketch takes what is new in a window.
func (t *Track) sketch(f pitch.Frames, c decode.Clip) {
	total := t.frames()
	if total == 0 {
		t.start = f.Start
	}
	first := int(math.Round((f.Start - t.start) / pitch.HopSeconds))
	keep := min(max(first, min(first+settleFrames, total-unsettled), t.summed()), total)
	frames := make([]sketch, 0, max(0, f.N-(keep-first)))
	s := newSketcher()
	from := max(0, keep-first-1) // for what moves from there
	s.frames.Each(c.Samples, from*pitch.Hop-sketchWindow/2, f.N-from, func(i int, power []float32) {
		for k, p := range power {
			s.power[k] = float64(p)
		}
		x := s.look(f, from+i)
		if from+i < keep-first {
			return
		}
		frames = append(frames, x)
		if first+from+i < total { // its spectrum is counted
			return
		}
		for k, p := range s.power {
			t.spectrum[k] += p
		}
	})
	t.add(keep, frames)
}

// each calls do with the cues of every block in turn; they are overwritten after it.
func (t *Track) each(events []Event, do func(i int, x *cues)) {
	n := t.frames()
	if n == 0 {
		return
	}
	quiet := percentile(t.level, 0.05)
	last := t.unsummed()
	var pieces []piece
	for i := range (n + blockFrames - 1) / blockFrames {
		lo, hi := t.block(i)
		pieces = pieces[:0]
		for k := lo / pieceFrames; k < (hi+pieceFrames-1)/pieceFrames; k++ {
			if k < len(t.pieces) {
				pieces = append(pieces, t.pieces[k])
			} else {
				pieces = append(pieces, last[k-len(t.pieces)])
			}
		}
		x := cuesOf(pieces)
		x[above] -= quiet
		for len(events) > 0 && t.frame(events[0].End) <= float64(lo) {
			events = events[1:]
		}
		for _, e := range events {
			if t.frame(e.Start) >= float64(hi) {
				break
			}
			t.enter(&x, e, lo, hi)
		}
		for k := range cue(traitCount) {
			x[traitMeans+k] = x[k] / max(x[filled], leastFilled)
		}
		do(i, &x)
	}
}

// frame is where a time in seconds lies among all frames.
func (t *Track) frame(seconds float64) float64 { return (seconds - t.start) / pitch.HopSeconds }

// block is the range of frames of block i.
func (t *Track) block(i int) (lo, hi int) {
	mid := i*blockFrames + blockFrames/2
	return max(0, mid-blockReach), min(t.frames(), mid+blockReach)
}

// enter adds what an event says to a block of frames [lo, hi).
func (t *Track) enter(block *cues, e Event, lo, hi int) {
	x := e.Heard
	if !x.known {
		return
	}
	share := max(0, min(t.frame(e.End), float64(hi))-max(t.frame(e.Start), float64(lo))) / float64(hi-lo)
	for k, v := range x.traits {
		block[k] += share * v
	}
	block[filled] += share
}

const (
	sketchWindow = 2048 // samples
	sketchLow    = 150  // Hz
	sketchHigh   = 4500 // Hz
)

// sketcher measures frames one after the other.
type sketcher struct {
	frames  *fft.Frames
	power   []float64 // of the frame at hand
	octaves []float64 // log2 of each bin's number
	past    []partial
}

func newSketcher() *sketcher {
	s := &sketcher{
		fft.NewFrames(fft.Hann(sketchWindow), pitch.Hop),
		make([]float64, sketchWindow/2+1),
		make([]float64, sketchWindow/2+1),
		nil,
	}
	for i := range s.octaves {
		s.octaves[i] = math.Log2(float64(i))
	}
	return s
}

// look measures frame k of a window, whose spectrum is at hand.
func (s *sketcher) look(f pitch.Frames, k int) sketch {
	out := s.spectrum()
	out.whole = float64(f.Level[k])
	out.glide = s.glide()
	out.breath = -logOdds(f.Breath[k][0])
	top := float32(0)
	for _, q := range f.Sounding[k*pitch.Rows : (k+1)*pitch.Rows] {
		top = max(top, q)
		out.doubt += doubt(q)
	}
	out.surest = logOdds(top)
	return out
}

// spectrum measures level, centroid and flatness.
func (s *sketcher) spectrum() sketch {
	lo, hi := sketchLow*sketchWindow/pitch.Rate, sketchHigh*sketchWindow/pitch.Rate
	var sum, moment, logs float64
	product := 1.0 // of powers whose logarithms are not added yet
	for i := lo; i < hi; i++ {
		p := s.power[i]
		sum += p
		moment += p * s.octaves[i]
		if product *= p + 1e-9; product < 1e-150 || product > 1e150 {
			logs, product = logs+math.Log10(product), 1
		}
	}
	logs += math.Log10(product)
	n := float64(hi - lo)
	return sketch{
		level:    10 * math.Log10(sum+1e-9),
		centroid: (moment + 1e-9*s.octaves[lo]) / (sum + 1e-9),
		flatness: 10 * (logs/n - math.Log10(sum/n+1e-9)),
	}
}

const (
	glidePartials = 6     // the strongest, which are followed
	glideHigh     = 2500  // Hz
	glideMost     = 60    // cents; what is farther away is another partial
	faintest      = 1e-10 // of the strongest's power: below is rounding
)

// partial is a peak of a spectrum: its place in bins, and its power.
type partial struct{ at, power float64 }

// glide is how far in cents the strongest partials lie from the nearest of the
// frame before, at most glideMost, on average.
func (s *sketcher) glide() float64 {
	now := s.strongest()
	moved := 0.0
	for _, p := range now {
		least := float64(glideMost)
		for _, q := range s.past {
			least = min(least, 1200*math.Abs(math.Log2(p.at/q.at)))
		}
		moved += least
	}
	s.past = now
	return moved / float64(max(len(now), 1))
}

func (s *sketcher) strongest() []partial {
	var out []partial
	for k := sketchLow * sketchWindow / pitch.Rate; k < glideHigh*sketchWindow/pitch.Rate; k++ {
		a, b, c := s.power[k-1], s.power[k], s.power[k+1]
		if b <= a || b < c {
			continue
		}
		a, b, c = math.Log(a+1e-12), math.Log(b+1e-12), math.Log(c+1e-12)
		p := partial{float64(k), s.power[k]}
		if d := a - 2*b + c; d < 0 {
			p.at += 0.5 * (a - c) / d
		}
		out = append(out, p)
		for i := len(out) - 1; i > 0 && out[i].power > out[i-1].power; i-- {
			out[i], out[i-1] = out[i-1], out[i]
		}
		out = out[:min(len(out), glidePartials)]
	}
	for len(out) > 1 && out[len(out)-1].power < faintest*out[0].power {
		out = out[:len(out)-1]
	}
	return out
}
