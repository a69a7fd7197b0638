// Package contour follows a note whose pitch is roughly known through its sound,
// and tells the shapes that players give it: scoops, falls, dips, vibrato.
//
// The frames are those of package pitch: frame i is centred on sample i*pitch.Hop.
// Each holds the spectrum of a Hann window of 46 ms, short enough for vibrato and
// long enough to part the partials of two reeds. In each frame a place on the cents
// axis is as good as the partials that a note there would have; the best smooth path
// through the frames (Viterbi 1967) is refined on the partials' peaks, each
// interpolated with a parabola (Smith & Serra 1987, PARSHL). Partials that another reed
// of the event spoils do not count.
//
// The tests compare lines with what sox, ffmpeg and aubiopitch make and measure.
package contour

import (
	"math"

	"blowdraw/decode/fft"
	"blowdraw/pitch"
)

// Analysis window in samples at pitch.Rate, and its bins.
const (
	window = 1024
	bins   = window/2 + 1
	binHz  = float64(pitch.Rate) / window
)

// Spectra are the spectra of frames First, First+1, ... of a section.
type Spectra struct {
	First int
	power [][]float32
	root  [][]float32 // fourth root of power
}

// Analyzer computes spectra. It is not safe for concurrent use.
type Analyzer struct{ frames *fft.Frames }

// NewAnalyzer prepares for sound at pitch.Rate.
func NewAnalyzer() *Analyzer {
	hann := make([]float64, window)
	for i := range hann { // a tone of amplitude 1 has power 1
		hann[i] = (1 - math.Cos(2*math.Pi*(float64(i)+0.5)/window)) * 2 / window
	}
	return &Analyzer{fft.NewFrames(hann, pitch.Hop)}
}

// Spectra of frames from to to-1 of samples (mono at pitch.Rate), zeros outside.
func (a *Analyzer) Spectra(samples []float64, from, to int) Spectra {
	s := Spectra{First: from}
	if to <= from {
		return s
	}
	all := make([]float32, 2*bins*(to-from))
	a.frames.Each(samples, from*pitch.Hop-window/2, to-from, func(i int, p []float32) {
		power, root := all[2*bins*i:][:bins:bins], all[2*bins*i+bins:][:bins:bins]
		copy(power, p)
		for k, v := range p {
			root[k] = float32(math.Sqrt(math.Sqrt(float64(v))))
		}
		s.power, s.root = append(s.power, power), append(s.root, root)
	})
	return s
}

// Note is what to follow.
type Note struct {
	Hz        float64
	Others    []float64 // Hz of other reeds that sound with it
	Low, High float64   // cents from Hz within which it moves: Low is below 0
}

// Line is a note followed through frames First, First+1, ...
type Line struct {
	First int
	Cents []float64 // off the frequency that was asked for
	Level []float64 // dB of its partials; a tone of amplitude 1 has 0
}

const (
	most      = 10   // partials used
	topHz     = 5000 // none above this
	step      = 10.0 // cents between places
	gentle    = 25.0 // cents a frame that a pitch may move at little cost
	steepest  = 6    // steps a frame that it may move at most
	evidence  = 30.0 // log weight of the best place against one without partials
	homesick  = 120. // cents from the frequency asked for that cost as much as gentle a frame
	clash     = 2.5  // bins within which another reed's partial spoils one's own
	leastRoot = 1e-3 // fourth root of the power under which a partial does not count
)

// Follow the note through all frames.
func (s Spectra) Follow(n Note) Line {
	partials := n.partials()
	ratios := make([]float64, int((n.High-n.Low)/step)+1)
	for p := range ratios {
		ratios[p] = math.Exp2((n.Low + step*float64(p)) / 1200)
	}
	scores := make([][]float64, len(s.root))
	for i := range scores {
		scores[i] = s.score(i, n, partials, ratios)
	}
	l := Line{First: s.First}
	for i, p := range smoothest(scores) {
		cents := n.Low + step*float64(p)
		l.Cents = append(l.Cents, s.refine(i, n.Hz, cents, partials))
		l.Level = append(l.Level, s.loudness(i, n.Hz, cents, partials))
	}
	return l
}

// partials lists the numbers of the partials that no other reed spoils, all of
// them if that leaves none.
func (n Note) partials() []int {
	var free, all []int
	for h := 1; h <= most && float64(h)*n.Hz < topHz; h++ {
		all = append(all, h)
		if !n.spoiled(h) {
			free = append(free, h)
		}
	}
	if len(free) == 0 {
		return all
	}
	return free
}

// spoiled reports whether a partial of another reed lies too close to partial h.
func (n Note) spoiled(h int) bool {
	for _, o := range n.Others {
		near := max(1, math.Round(float64(h)*n.Hz/o)) * o
		if math.Abs(near-float64(h)*n.Hz) < clash*binHz {
			return true
		}
	}
	return false
}

// score of each place in frame i, whose frequencies are those ratios of the note's: up to evidence for the partials there, less the
// cost of being away from home.
func (s Spectra) score(i int, n Note, partials []int, ratios []float64) []float64 {
	out := make([]float64, len(ratios))
	top := leastRoot
	for p, ratio := range ratios {
		for _, h := range partials {
			out[p] += at(s.root[i], n.Hz*float64(h)*ratio/binHz)
		}
		top = max(top, out[p])
	}
	for p := range out {
		away := (n.Low + step*float64(p)) / homesick
		out[p] = evidence*out[p]/top - away*away
	}
	return out
}

// at reads a spectrum between its bins; 0 beyond it.
func at(x []float32, bin float64) float64 {
	k := int(bin)
	if k+1 >= len(x) {
		return 0
	}
	w := bin - float64(k)
	return (1-w)*float64(x[k]) + w*float64(x[k+1])
}

// smoothest is the sequence of places with the greatest sum of scores less
// (movement/gentle)² a frame.
func smoothest(scores [][]float64) []int {
	if len(scores) == 0 {
		return nil
	}
	places := len(scores[0])
	back := make([][]int8, len(scores))
	best, next := make([]float64, places), make([]float64, places)
	copy(best, scores[0])
	for i := 1; i < len(scores); i++ {
		back[i] = make([]int8, places)
		for p := range next {
			next[p] = math.Inf(-1)
			for m := -steepest; m <= steepest; m++ {
				q := p + m
				if q < 0 || q >= places {
					continue
				}
				move := step * float64(m) / gentle
				if x := best[q] - move*move; x > next[p] {
					next[p], back[i][p] = x, int8(m)
				}
			}
			next[p] += scores[i][p]
		}
		best, next = next, best
	}
	p := 0
	for q := range best {
		if best[q] > best[p] {
			p = q
		}
	}
	path := make([]int, len(scores))
	for i := len(scores) - 1; i >= 0; i-- {
		path[i] = p
		if i > 0 {
			p += int(back[i][p])
		}
	}
	return path
}

// refine a place in frame i: the median of where the partials' peaks lie, weighted
// with their amplitudes and numbers, since higher partials move further in Hz. The
// place itself where there are no peaks.
func (s Spectra) refine(i int, hz, cents float64, partials []int) float64 {
	var offs, weights []float64
	bin := hz * math.Exp2(cents/1200) / binHz
	for _, h := range partials {
		x := bin * float64(h)
		k := peakNear(s.power[i], x)
		if k < 0 {
			continue
		}
		a, b, c := s.power[i][k-1], s.power[i][k], s.power[i][k+1]
		off := 1200 * math.Log2((float64(k)+pitch.Vertex(a, b, c))/x)
		if math.Abs(off) > 4*step {
			continue
		}
		offs = append(offs, off)
		weights = append(weights, float64(h)*float64(s.root[i][k]))
	}
	off := pitch.WeightedMedian(offs, weights)
	if math.IsNaN(off) {
		return cents
	}
	return cents + off
}

// peakNear is the highest peak within 1.5 bins of a place, -1 if there is none.
func peakNear(power []float32, x float64) int {
	best := -1
	for k := max(1, int(math.Ceil(x-1.5))); k <= int(x+1.5) && k+1 < len(power); k++ {
		if power[k] > power[k-1] && power[k] >= power[k+1] && (best < 0 || power[k] > power[best]) {
			best = k
		}
	}
	return best
}

// loudness of the partials in frame i in dB.
func (s Spectra) loudness(i int, hz, cents float64, partials []int) float64 {
	sum, bin := 1e-12, hz*math.Exp2(cents/1200)/binHz
	for _, h := range partials {
		sum += s.near(i, bin*float64(h))
	}
	return 10 * math.Log10(sum)
}

// Len is the number of frames.
func (s Spectra) Len() int { return len(s.power) }

// From leaves out the first n frames.
func (s Spectra) From(n int) Spectra {
	return Spectra{First: s.First + n, power: s.power[n:], root: s.root[n:]}
}

// Until keeps the first n frames, or all.
func (s Spectra) Until(n int) Spectra {
	n = min(n, len(s.power))
	return Spectra{First: s.First, power: s.power[:n], root: s.root[:n]}
}

// Apart reports whether the note has partials of its own that the others leave free.
func (n Note) Apart() bool {
	for _, h := range n.partials() {
		if !n.spoiled(h) {
			return true
		}
	}
	return false
}

// Level is how loud in dB the note's own partials are in each frame, without
// following it.
func (s Spectra) Level(n Note) []float64 {
	partials := n.partials()
	out := make([]float64, len(s.power))
	for i := range out {
		out[i] = s.loudness(i, n.Hz, 0, partials)
	}
	return out
}
