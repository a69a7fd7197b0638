package lattice

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"blowdraw/pitch"
)

// small is a lattice over random frames with silence and three notes.
func small(seed uint64, frames int) *Lattice {
	rng := rand.New(rand.NewPCG(seed, 1))
	f := pitch.NewFrames(pitch.Axis{Base: 60}, 0, frames)
	f.Breath, f.Count = make([][3]float32, frames), make([][4]float32, frames)
	for i := range f.Sounding {
		f.Sounding[i], f.Attack[i] = 0.01, 0.01
		if r := i % pitch.Rows; r == 5 || r == 7 || r == 9 {
			f.Sounding[i], f.Attack[i] = rng.Float32(), rng.Float32()
		}
	}
	for t := range frames {
		f.Event[t] = rng.Float32()
		f.Breath[t] = [3]float32{rng.Float32(), rng.Float32(), rng.Float32()}
		f.Count[t] = [4]float32{rng.Float32(), rng.Float32(), rng.Float32(), rng.Float32()}
	}
	s := States{
		{},
		{Rows: []int{5}, Breath: pitch.Blowing, Hole: 1},
		{Rows: []int{7}, Breath: pitch.Drawing, Hole: 2, Prior: -0.3},
		{Rows: []int{5, 9}, Breath: pitch.Blowing, Hole: 4, Prior: -0.5},
	}
	return New(s, f, Weights{
		Sounding: 0.4, Breath: 0.2, Count: 0.2, Attack: 0.5, Event: 0.3, AttackFloor: -3, AttackCeil: 3,
		Moves: Moves{Change: -1, Start: -0.7, Stop: -0.6, Breath: -0.4, Jump: -0.2, Farthest: -1},
	}, nil)
}

// enumerate visits every sequence of states: silence of any length, notes of
// MinFrames or more except that the last may be cut off by the end.
func enumerate(l *Lattice, visit func(path []Span, score float64)) {
	n := l.frames.N
	emit, onset := make([][]float64, n), make([][]float64, n)
	for t := range n {
		l.score(t)
		emit[t], onset[t] = slices.Clone(l.emit), slices.Clone(l.onset)
	}
	var walk func(path []Span, from, at int, score float64)
	walk = func(path []Span, from, at int, score float64) {
		if at == n {
			visit(path, score)
			return
		}
		walk(path, 0, at+1, score+emit[at][0]+silent(l, from))
		for i := 1; i < len(l.states); i++ {
			s := score + l.cost[i][from] + onset[at][i]
			for end := at + 1; end <= n; end++ {
				s += emit[end-1][i]
				if end-at >= MinFrames || end == n {
					walk(append(slices.Clone(path), Span{State: i, From: at, To: end, Found: at}), i, end, s)
				}
			}
		}
	}
	walk(nil, 0, 0, 0)
}

// silent is the cost of a frame of silence after a state.
func silent(l *Lattice, from int) float64 {
	if from == 0 {
		return 0
	}
	return l.cost[0][from]
}

// The likeliest sequence is the one that trying all of them finds.
func TestBestIsBest(t *testing.T) {
	notes := 0
	for seed := range uint64(40) {
		l := small(seed, 9)
		top, want := math.Inf(-1), []Span(nil)
		enumerate(l, func(path []Span, score float64) {
			if score > top {
				top, want = score, path
			}
		})
		if got := l.Best(); !slices.Equal(got, want) {
			t.Errorf("seed %d: %v, best is %v", seed, got, want)
		}
		notes += len(want)
	}
	if notes < 40 {
		t.Errorf("the best sequences have %d notes in all: nothing was tested", notes)
	}
}

// The forward and backward passes give the sums over all sequences.
func TestPosteriorIsExact(t *testing.T) {
	const n = 8
	for seed := range uint64(10) {
		l := small(seed, n)
		s := len(l.states)
		in, begin, total := make([]float64, n*s), make([]float64, n*s), 0.0
		enumerate(l, func(path []Span, score float64) {
			w := math.Exp(score)
			total += w
			sounding := make([]int, n)
			for _, p := range path {
				begin[p.From*s+p.State] += w
				for k := p.From; k < p.To; k++ {
					sounding[k] = p.State
				}
			}
			for k, i := range sounding {
				in[k*s+i] += w
			}
		})
		p := l.Posterior()
		for k := range in {
			if got, want := float64(p.In[k]), in[k]/total; math.Abs(got-want) > 1e-4 {
				t.Errorf("seed %d: state %d at frame %d has probability %.5f, want %.5f", seed, k%s, k/s, got, want)
			}
			if got, want := float64(p.Begin[k]), begin[k]/total; math.Abs(got-want) > 1e-4 {
				t.Errorf(
					"seed %d: state %d begins at frame %d with probability %.5f, want %.5f",
					seed,
					k%s,
					k/s,
					got,
					want,
				)
			}
		}
	}
}

// A row that is more than Mask dB under the loudest that sounds has Masked less log odds for
// each dB more, whatever the ear says; the loudest itself, and rows that are near it, have not.
func TestMasked(t *testing.T) {
	emitted := func(under float32, w Weights) float64 {
		l := small(3, 1)
		l.w.Mask, l.w.Masked = w.Mask, w.Masked
		l.frames.Loud = make([]float32, pitch.Rows)
		for r := range pitch.Rows {
			l.frames.Loud[r] = -120
		}
		l.frames.Sounding[5], l.frames.Sounding[9] = 0.9, 0.6
		l.frames.Loud[5], l.frames.Loud[9] = -20, -20-under
		l.score(0)
		return l.emit[3] // of both
	}
	masks := Weights{Mask: 14, Masked: 0.2}
	for _, c := range []struct {
		under float32
		less  float64
	}{{0, 0}, {14, 0}, {19, 0.4 * 0.2 * 5}, {34, 0.4 * 0.2 * 20}} {
		if got := emitted(c.under, Weights{}) - emitted(c.under, masks); math.Abs(got-c.less) > 1e-6 {
			t.Errorf("%g dB under: %g less, want %g", c.under, got, c.less)
		}
	}
}

// Frames that say nothing in particular, and none at all, do no harm.
func TestLatticeOfSilence(t *testing.T) {
	for _, n := range []int{1, 2, 50} {
		f := pitch.NewFrames(pitch.Axis{Base: 60}, 0, n)
		l := New(small(0, 1).states, f, Classical().Weights, nil)
		if got := l.Best(); len(got) > 0 {
			t.Errorf("%d silent frames: %v", n, got)
		}
		p := l.Posterior()
		for k := range n {
			if p.In[k*p.States] < 0.99 {
				t.Errorf("frame %d of %d is silent with probability %g", k, n, p.In[k*p.States])
			}
		}
	}
}
