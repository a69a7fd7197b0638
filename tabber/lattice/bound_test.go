package lattice

import (
	"math"
	"slices"
	"testing"
)

// obeys reports whether a path keeps to the bounds.
func obeys(path []Span, bounds []Bound) bool {
	for k, b := range bounds {
		state, begins := 0, false
		for _, s := range path {
			if s.From <= k && k < s.To {
				state, begins = s.State, s.From == k
			}
		}
		if b.State != Free && (state != b.State || begins != b.Begin) {
			return false
		}
	}
	return true
}

// tied binds a state to frames [from, to).
func tied(n, state, from, to int) []Bound {
	out := make([]Bound, n)
	for k := range out {
		out[k].State = Free
		if k >= from && k < to {
			out[k] = Bound{state, k == from}
		}
	}
	return out
}

// With bounds the likeliest sequence and the sums are those over all sequences
// that keep to them.
func TestBoundLattice(t *testing.T) {
	const n = 8
	for seed := range uint64(30) {
		l := small(seed, n)
		state, from := 1+int(seed%3), int(seed%4)
		bounds := tied(n, state, from, from+3+int(seed%2))
		s := len(l.states)
		top, want, total := math.Inf(-1), []Span(nil), 0.0
		in, begin := make([]float64, n*s), make([]float64, n*s)
		enumerate(l, func(path []Span, score float64) {
			if !obeys(path, bounds) {
				return
			}
			if score > top {
				top, want = score, path
			}
			total += math.Exp(score)
			sounding := make([]int, n)
			for _, p := range path {
				begin[p.From*s+p.State] += math.Exp(score)
				for k := p.From; k < p.To; k++ {
					sounding[k] = p.State
				}
			}
			for k, i := range sounding {
				in[k*s+i] += math.Exp(score)
			}
		})
		l.bounds = bounds
		if got := l.Best(); !slices.Equal(got, want) {
			t.Errorf("seed %d: %v, best is %v", seed, got, want)
		}
		if got, evidence := l.Explained(); !slices.Equal(got, want) || evidence != l.Evidence() {
			t.Errorf("seed %d: %v explains %g, best is %v and %g", seed, got, evidence, want, l.Evidence())
		}
		p := l.Posterior()
		for k := range in {
			if math.Abs(float64(p.In[k])-in[k]/total) > 1e-4 || math.Abs(float64(p.Begin[k])-begin[k]/total) > 1e-4 {
				t.Errorf(
					"seed %d: state %d at frame %d: %.5f and %.5f, want %.5f and %.5f",
					seed,
					k%s,
					k/s,
					p.In[k],
					p.Begin[k],
					in[k]/total,
					begin[k]/total,
				)
			}
		}
	}
}
