package beat

import (
	"math"
	"slices"
	"sort"

	"blowdraw/decode/parallel"

	"gonum.org/v1/gonum/floats"
)

const (
	windowSeconds = 12.0
	stepSeconds   = 6.0
	tempoStep     = 0.005 // of the logarithm: half a per cent
	bins          = 64    // places in a beat
	jitter        = 0.02  // s, how far from the grid players play
	stray         = 0.1   // share of begins that lie on no grid
	evidence      = 0.5   // windows overlap by half: each begin is heard twice
	usualBPM      = 110.0
	spread        = 0.45 // of the tempo's logarithm to base 2
	drift         = 0.01 // change of the tempo's logarithm from window to window
	turn          = 8.0  // cost of another tempo or grid altogether
)

// grid is a way to divide a beat.
type grid struct {
	share   float64   // prior probability
	at, has []float64 // positions in beats, and how many of the begins they have
}

// grids and their shares are common practice, no source: plain, straight, swung
// and triplets; on the beat more than off it, and in blues triplets and their
// swing more than straight halves.
var grids = []grid{
	{0.15, []float64{0, 0.5}, []float64{0.95, 0.05}},
	{0.2, []float64{0, 0.5, 0.25, 0.75}, []float64{0.5, 0.34, 0.08, 0.08}},
	{0.15, []float64{0, 0.6}, []float64{0.6, 0.4}},
	{0.5, []float64{0, 1. / 3, 2. / 3}, []float64{0.45, 0.21, 0.34}},
}

// tempi that are tried.
func tempi() []float64 {
	var out []float64
	for b := Slowest; b <= Fastest; b *= 1 + tempoStep {
		out = append(out, b)
	}
	return out
}

// prior is the logarithm of how likely a tempo is.
func prior(bpm float64) float64 {
	z := math.Log2(bpm/usualBPM) / spread
	return -z * z / 2
}

// template is the logarithm of how much likelier than by chance an onset lies
// at each bin of a beat of the period in seconds.
func (g grid) template(period float64) []float64 {
	out := make([]float64, bins)
	sigma := jitter / period
	for i := range out {
		density := stray
		for k, p := range g.at {
			d := float64(i)/bins - p
			d = min(math.Abs(d), 1-math.Abs(d)) / sigma
			if d > 5 {
				continue
			}
			density += (1 - stray) * g.has[k] * math.Exp(-d*d/2) / (sigma * math.Sqrt(2*math.Pi))
		}
		out[i] = math.Log(density)
	}
	return out
}

// fold adds up the weights of begins at each bin of a beat, shared between the
// two bins around each.
func fold(begins []begin, from, period float64, into []float64) {
	clear(into)
	for _, o := range begins {
		x := (o.time - from) / period
		x = (x - math.Floor(x)) * bins
		k := int(x)
		part := x - float64(k)
		into[k%bins] += o.weight * (1 - part)
		into[(k+1)%bins] += o.weight * part
	}
}

// lay finds the best place for a template over a fold, which is there twice, one
// behind the other: the sum over begins, and the bin of the beat.
func lay(twice, template []float64) (best float64, place int) {
	best = math.Inf(-1)
	for shift := range bins {
		if sum := floats.Dot(template, twice[shift:][:bins]); sum > best {
			best, place = sum, shift
		}
	}
	return best, place
}

// point of a tempo curve: a window, its period and one beat in seconds, and its
// grid.
type point struct {
	from, to, middle, period, beat float64
	grid                           int
}

type curve []point

// tempoCurve finds the likeliest tempo and grid for each window. alternative
// is the better of half and double.
func tempoCurve(strength Strength, begins []begin, from, to, given float64) (c curve, alternative float64) {
	bpm := tempi()
	if given > 0 {
		bpm = []float64{
			given * 0.985, given * 0.99, given * 0.995, given, given * 1.005, given * 1.01, given * 1.015,
		}
	}
	s := newSearch(bpm)
	for at := from; ; at += stepSeconds {
		end := at + windowSeconds
		last := end >= to
		if last {
			end, at = to, max(from, to-windowSeconds)
		}
		s.window(strength, between(begins, at, end), at, end)
		if last {
			break
		}
	}
	c = s.best()
	if given <= 0 {
		alternative = s.octave(c.bpm())
	}
	return c, alternative
}

func between(begins []begin, from, to float64) []begin {
	at := func(t float64) int {
		return sort.Search(len(begins), func(i int) bool { return begins[i].time >= t })
	}
	return begins[at(from):at(to)]
}

// search is the likeliest sequence of states so far (Viterbi 1967); a state is
// a tempo and a grid, tempo*len(grids)+grid.
type search struct {
	bpm       []float64
	templates [][]float64 // of the states
	total     []float64   // of the best sequence that ends in each state
	sum       []float64   // of each state over all windows
	windows   []windowStates
}

// windowStates is what is kept of a window: for each state by how many tempi the one
// before is faster, or turned if that is top, and the bin of the beat.
type windowStates struct {
	start, end float64
	top        int16
	before     []int8
	places     []uint8
}

const turned = math.MaxInt8

// origin is the state of the window before from which state k goes on.
func (w *windowStates) origin(k int) int {
	if w.before[k] == turned {
		return int(w.top)
	}
	return k + int(w.before[k])*len(grids)
}

func newSearch(bpm []float64) *search {
	s := &search{bpm: bpm}
	for _, b := range bpm {
		for _, g := range grids {
			s.templates = append(s.templates, g.template(60/b))
			s.total = append(s.total, prior(b)+math.Log(g.share))
		}
	}
	s.sum = slices.Clone(s.total)
	return s
}

// window goes one window on.
func (s *search) window(strength Strength, begins []begin, from, to float64) {
	n := len(s.templates)
	w := windowStates{start: from, end: to, before: make([]int8, n), places: make([]uint8, n)}
	if len(s.windows) > 0 {
		s.step(&w)
	}
	alike := strength.resemblance(from, to)
	folded := make([][2 * bins]float64, parallel.Workers())
	parallel.Each(len(s.bpm), func(worker, i int) {
		period, twice := 60/s.bpm[i], folded[worker][:]
		beats := comb*pulse(alike, strength.Hop, period) + prior(s.bpm[i])
		fold(begins, from, period, twice[:bins])
		copy(twice[bins:], twice)
		for k := i * len(grids); k < (i+1)*len(grids); k++ {
			v, place := lay(twice, s.templates[k])
			w.places[k] = uint8(place)
			s.total[k] += evidence * (v + beats)
			s.sum[k] += evidence * (v + beats)
		}
	})
	s.windows = append(s.windows, w)
}

// step carries the totals over to the next window. A small change of tempo costs
// little, any other turn.
func (s *search) step(w *windowStates) {
	n := len(s.total)
	next := make([]float64, n)
	top := argmax(s.total)
	w.top = int16(top)
	for k := range next {
		best, at := s.total[top]-turn, turned
		for d := -4; d <= 4; d++ {
			j := k + d*len(grids)
			if j < 0 || j >= n {
				continue
			}
			z := float64(d) * tempoStep / drift
			if v := s.total[j] - z*z/2; v > best {
				best, at = v, d
			}
		}
		next[k], w.before[k] = best, int8(at)
	}
	s.total = next
}

// best is the likeliest sequence over all windows.
func (s *search) best() curve {
	c := make(curve, len(s.windows))
	k := argmax(s.total)
	for i := len(c) - 1; i >= 0; i-- {
		w := s.windows[i]
		period := 60 / s.bpm[k/len(grids)]
		c[i] = point{
			from: w.start, to: w.end, middle: (w.start + w.end) / 2, period: period, grid: k % len(grids),
			beat: w.start + float64(w.places[k])/bins*period,
		}
		k = w.origin(k)
	}
	return c
}

// octave is the likelier of half and double the tempo over all windows.
func (s *search) octave(bpm float64) float64 {
	best, out := math.Inf(-1), 0.0
	for _, want := range []float64{bpm / 2, bpm * 2} {
		i := int(math.Round(math.Log(want/Slowest) / math.Log1p(tempoStep)))
		if i < 0 || i >= len(s.bpm) {
			continue
		}
		for _, v := range s.sum[i*len(grids) : (i+1)*len(grids)] {
			if v > best {
				best, out = v, want
			}
		}
	}
	return out
}

func argmax(x []float64) int {
	top := 0
	for i, v := range x {
		if v > x[top] {
			top = i
		}
	}
	return top
}

// bpm is the median tempo.
func (c curve) bpm() float64 {
	periods := make([]float64, len(c))
	for i, p := range c {
		periods[i] = p.period
	}
	return 60 / median(periods)
}

// near is the point whose window's middle is nearest to a time; windows are
// stepSeconds apart, all but the last.
func (c curve) near(t float64) point {
	i := int(math.Round((t - c[0].middle) / stepSeconds))
	i = min(max(i, 0), len(c)-1)
	if i > 0 && t-c[i-1].middle < c[i].middle-t {
		i--
	}
	return c[i]
}
