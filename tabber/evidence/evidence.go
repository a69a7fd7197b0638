// Package evidence answers the question that a transcriber asks most: is that one
// note, a double stop, a split or a chord? It shows why, in the partials of the
// sound itself.
//
// The probabilities come from package reading. Here the reeds of the two likeliest
// readings are looked up in the spectrum. A partial of the second reed that no other
// reed has shows by how far it rises above what lies around it. One that it shares
// with the first, as an octave shares all of its partials, shows by how far it rises
// above what the first reed's neighbouring partials let expect.
package evidence

import (
	"math"
	"slices"

	"blowdraw/decode"
	"blowdraw/pitch"
)

// Reed is one reed of a reading and what is heard of it.
type Reed struct {
	Name     string  // as tab
	Hz       float64 // of its first partial
	Partials []Partial
	Weaker   float64 // dB below the first reed; NaN if it can't be told
	Late     float64 // s after the first reed that it is heard; NaN if it can't be told
}

// Partial is one partial of a reed. Over is how far it rises in dB above what is
// expected without the reed: the level around it, or where it is Shared with the
// first reed what that reed's neighbouring partials let expect.
type Partial struct {
	Number   int
	Hz       float64
	Level    float64 // dB, 0 is a sine of full scale
	Expected float64 // dB
	Shared   bool
}

// Over is the partial's rise above what is expected without its reed, in dB.
func (p Partial) Over() float64 { return p.Level - p.Expected }

const (
	mostPartials = 8
	topHz        = 7000 // above it little is left of a harp on a recording
	apart        = 45   // cents between partials that can be told apart, and at least two main lobes
	speaking     = 0.05 // s after the start of an event from which its spectrum is taken
	standsAlone  = 10   // dB over the level around it from which a partial stands out
	standsShared = 4    // dB over what the first reed explains
	faint        = 55   // dB below the strongest partial at which one does not count
)

// Measure looks for reeds, given by name and frequency in Hz, lowest first, in an
// event of a clip that sounds from start to end seconds.
func Measure(c decode.Clip, start, end float64, names []string, hz []float64) ([]Reed, Spectrum) {
	x := cut(c, start+min(speaking, (end-start)/4), end)
	s := NewSpectrum(x)
	reeds := make([]Reed, len(hz))
	for i := range reeds {
		reeds[i] = Reed{Name: names[i], Hz: hz[i], Weaker: math.NaN(), Late: math.NaN()}
		for n := 1; n <= mostPartials && float64(n)*hz[i] < topHz; n++ {
			f := float64(n) * hz[i]
			reeds[i].Partials = append(reeds[i].Partials, Partial{Number: n, Hz: f, Level: s.Level(f)})
		}
	}
	for i := range reeds {
		s.expect(reeds, i)
	}
	for i := 1; i < len(reeds); i++ {
		reeds[i].Weaker = weaker(reeds[0], reeds[i])
		reeds[i].Late = late(c, start, end, reeds[0], reeds[i])
	}
	return reeds, s
}

// cut is the clip between two times.
func cut(c decode.Clip, from, to float64) []float64 {
	a := min(max(int((from-c.Start)*float64(c.Rate)), 0), len(c.Samples))
	b := min(max(int((to-c.Start)*float64(c.Rate)), a), len(c.Samples))
	return c.Samples[a:b]
}

// shares reports whether a partial at hz coincides with one of the reed's.
func (s Spectrum) shares(r Reed, hz float64) bool {
	n := math.Round(hz / r.Hz)
	return n >= 1 && math.Abs(s.bin(hz)-s.bin(n*r.Hz)) < max(2*width, s.bin(hz)*(math.Exp2(apart/1200.0)-1))
}

// expect fills in what is expected at each partial of reed i without that reed.
func (s Spectrum) expect(reeds []Reed, i int) {
	for k := range reeds[i].Partials {
		p := &reeds[i].Partials[k]
		p.Shared = i > 0 && s.shares(reeds[0], p.Hz)
		if p.Shared {
			p.Expected = s.explained(reeds, i, p.Hz)
		} else {
			p.Expected = s.around(reeds, p.Hz)
		}
	}
}

// explained is the level that the first reed's partials beside hz which reed i does
// not share let expect at hz: their mean in dB.
func (s Spectrum) explained(reeds []Reed, i int, hz float64) float64 {
	n := math.Round(hz / reeds[0].Hz)
	sum, count := 0.0, 0.0
	for _, side := range []float64{-1, 1} {
		for d := 1.0; d <= 2; d++ {
			f := (n + side*d) * reeds[0].Hz
			if f > 0 && f < topHz*1.2 && !s.shares(reeds[i], f) {
				sum, count = sum+s.Level(f), count+1
				break
			}
		}
	}
	if count == 0 {
		return math.Inf(1) // nothing tells
	}
	return sum / count
}

// around is the median level within a quarter of hz that no reed's partial takes up.
func (s Spectrum) around(reeds []Reed, hz float64) float64 {
	var levels []float32
	lo, hi := int(s.bin(0.75*hz)), min(int(math.Ceil(s.bin(1.25*hz))), len(s.Power)-1)
	for k := lo; k <= hi; k++ {
		at := float64(k) * pitch.Rate / float64(s.Size)
		if !slices.ContainsFunc(reeds, func(r Reed) bool { return s.shares(r, at) }) {
			levels = append(levels, float32(decibels(s.Power[k])))
		}
	}
	if len(levels) == 0 {
		return s.Level(hz)
	}
	return pitch.Percentile(levels, 0.5)
}

// Telling are the partials by which a reed shows beside the first: those that stand
// out beyond what is expected without it. Where none of its own does, those that it
// shares tell nothing.
func (r Reed) Telling() []Partial {
	top := math.Inf(-1)
	for _, p := range r.Partials {
		top = max(top, p.Level)
	}
	var out []Partial
	own, alone := 0, 0
	for _, p := range r.Partials {
		if !p.Shared {
			own++
		}
		if p.Level > top-faint && (!p.Shared && p.Over() >= standsAlone || p.Shared && p.Over() >= standsShared) {
			out = append(out, p)
			if !p.Shared {
				alone++
			}
		}
	}
	if own > 0 && alone == 0 {
		return nil
	}
	return out
}

// weaker is by how many dB reed b is weaker than reed a, over all their partials: of
// those that they share each has its part. NaN if nothing of b stands out.
func weaker(a, b Reed) float64 {
	if len(b.Telling()) == 0 {
		return math.NaN()
	}
	first, second := 0.0, 0.0
	for _, p := range a.Partials {
		first += math.Pow(10, p.Level/10)
	}
	for _, p := range b.Partials {
		power := math.Pow(10, p.Level/10)
		if p.Shared {
			explained := min(power, math.Pow(10, p.Expected/10))
			power -= explained
			if slices.ContainsFunc(a.Partials, func(q Partial) bool { return same(p.Hz, q.Hz) }) {
				first -= power
			}
		}
		second += power
	}
	return decibels(first) - decibels(second)
}

// same reports whether two partials coincide.
func same(a, b float64) bool { return math.Abs(a-b) < 0.01*b }

// late is how many seconds after reed a reed b is heard: the medians of when their
// partials are, a's by those that b does not share. NaN if it can't be told.
func late(c decode.Clip, start, end float64, a, b Reed) float64 {
	frames := framesOf(c, start, end)
	var first, second []float64
	for _, p := range a.Partials {
		if !slices.ContainsFunc(b.Partials, func(q Partial) bool { return same(p.Hz, q.Hz) }) {
			first = append(first, heardFrom(frames, p.Hz))
		}
	}
	for _, p := range b.Telling() {
		second = append(second, heardFrom(frames, p.Hz))
	}
	return max(0, median(second)-median(first)) // NaN if either is
}

const (
	stepSeconds = 0.01
	onsetSize   = 2048 // samples of a window: a partial that begins in its middle is 6 dB below its level
	halfway     = 6    // dB
)

// framesOf an event are spectra stepSeconds apart, the first of which ends where the
// event begins.
func framesOf(c decode.Clip, start, end float64) []Spectrum {
	var out []Spectrum
	const length = float64(onsetSize) / pitch.Rate
	for t := start - length; t < end-length; t += stepSeconds {
		out = append(out, spectrum(cut(c, t, t+length), onsetSize, onsetSize))
	}
	return out
}

// heardFrom is when a partial reaches its usual level, in seconds from the first
// frame; NaN if there are none.
func heardFrom(frames []Spectrum, hz float64) float64 {
	levels := make([]float32, len(frames))
	for i, s := range frames {
		levels[i] = float32(s.Level(hz))
	}
	usual := pitch.Percentile(levels[len(levels)/2:], 0.5)
	for i, v := range levels {
		if float64(v) > usual-halfway {
			return stepSeconds * float64(i)
		}
	}
	return math.NaN()
}
