package lattice

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// Span is a stretch of frames [From, To) in one state. The search found the
// begin at frame Found.
type Span struct{ State, From, To, Found int }

// Best is the likeliest sequence of states (Viterbi 1967), silence left out.
func (l *Lattice) Best() []Span {
	spans, _ := l.Explained()
	return spans
}

// Explained is [Lattice.Best] and [Lattice.Evidence] together, for little more than the
// cost of the first.
func (l *Lattice) Explained() (best []Span, evidence float64) {
	n, s := l.frames.N, len(l.states)
	v, next := newLayers(s, math.Inf(-1)), newLayers(s, math.Inf(-1))
	back := make([]int16, n*s)    // state before a note that begins here
	stay := make([]bool, n*s)     // whether the last layer came from itself
	quietBack := make([]int16, n) // state before silence at this frame
	v[last][0] = 0
	spread := l.costSpread()
	var near []int // states that can be the best to come from
	for t := range n {
		l.score(t)
		evidence += floats.Max(l.emit)
		near = within(near[:0], v[last], floats.Max(v[last])-spread)
		top, from := v[last][0], 0
		for _, i := range near {
			if x := v[last][i] + l.cost[0][i]; i > 0 && x > top {
				top, from = x, i
			}
		}
		next[last][0], quietBack[t] = top+l.emit[0], int16(from)
		for i := 1; i < s; i++ {
			top, from := math.Inf(-1), 0
			for _, j := range near {
				if x := v[last][j] + l.cost[i][j]; x > top {
					top, from = x, j
				}
			}
			back[t*s+i] = int16(from)
			next[0][i] = top + l.onset[i] + l.emit[i]
			for k := 1; k < last; k++ {
				next[k][i] = v[k-1][i] + l.emit[i]
			}
			if !l.lasts(t) {
				for k := 1; k <= last; k++ {
					next[k][i] = math.Inf(-1)
				}
				continue
			}
			grown, same := v[last-1][i], v[last][i]
			stay[t*s+i] = same >= grown
			next[last][i] = max(same, grown) + l.emit[i]
		}
		v, next = next, v
	}
	return l.trace(v, back, stay, quietBack), evidence
}

// costSpread is the largest difference between the costs of entering one state
// from different ones.
func (l *Lattice) costSpread() float64 {
	spread := 0.0
	for _, c := range l.cost {
		spread = max(spread, floats.Max(c)-floats.Min(c))
	}
	return spread
}

// within appends the indices of values of at least least.
func within(dst []int, values []float64, least float64) []int {
	for i, x := range values {
		if x >= least {
			dst = append(dst, i)
		}
	}
	return dst
}

// last is the layer of notes that have had their least length.
const last = MinFrames - 1

type layers [MinFrames][]float64

// newLayers of n states, all with the same value; silence keeps it in all layers
// but the last.
func newLayers(n int, value float64) *layers {
	var v layers
	for k := range v {
		v[k] = make([]float64, n)
		for i := range v[k] {
			v[k][i] = value
		}
	}
	return &v
}

func (l *Lattice) trace(v *layers, back []int16, stay []bool, quietBack []int16) []Span {
	s, layer, state := len(l.states), last, 0
	for k := range v {
		for i, x := range v[k] {
			if x > v[layer][state] {
				layer, state = k, i
			}
		}
	}
	var spans []Span
	end := l.frames.N
	for t := l.frames.N - 1; t >= 0; t-- {
		switch {
		case state == 0:
			state = int(quietBack[t])
			end = t
		case layer == 0:
			spans = append(spans, Span{State: state, From: t, To: end, Found: t})
			state, layer, end = int(back[t*s+state]), last, t
		case layer < last || !stay[t*s+state]:
			layer--
		}
	}
	slices.Reverse(spans)
	return spans
}
