package lattice

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// Posterior is what forward and backward passes over the lattice say of every
// frame (Rabiner 1989), for States states: In[t*States+i] is the probability of state i
// at frame t, Begin[t*States+i] that state i begins there.
type Posterior struct {
	States    int
	In, Begin []float32
}

// Frames is how many frames the posterior is of.
func (p Posterior) Frames() int { return len(p.In) / max(p.States, 1) }

// Begins is the probability that one of the states begins within reach frames
// of frame at.
func (p Posterior) Begins(states []int, at, reach int) float64 {
	sum := 0.0
	for k := max(0, at-reach); k <= min(p.Frames()-1, at+reach); k++ {
		for _, i := range states {
			sum += float64(p.Begin[k*p.States+i])
		}
	}
	return min(sum, 1)
}

// Posterior takes forward and backward probabilities.
func (l *Lattice) Posterior() Posterior {
	n, s := l.frames.N, len(l.states)
	weight := make([][]float64, s) // [to][from]
	turned := make([][]float64, s) // [from][to]
	for to := range weight {
		weight[to] = make([]float64, s)
		for from := range weight[to] {
			weight[to][from] = math.Exp(l.cost[to][from])
		}
	}
	weight[0][0] = 1 // silence lasts at no cost
	for from := range turned {
		turned[from] = make([]float64, s)
		for to := range turned[from] {
			turned[from][to] = weight[to][from]
		}
	}
	emits, onsets := make([]float32, n*s), make([]float32, n*s)
	for t := range n {
		l.score(t)
		top := floats.Max(l.emit)
		for i := range s {
			emits[t*s+i] = float32(math.Exp(l.emit[i] - top))
			onsets[t*s+i] = float32(math.Exp(l.onset[i]))
		}
	}
	forward := l.forward(turned, emits, onsets)
	return l.backward(weight, emits, onsets, forward)
}

// forward returns for every frame the scaled weights [t][layer][state]; turned is
// [from][to].
func (l *Lattice) forward(turned [][]float64, emits, onsets []float32) []float32 {
	n, s := l.frames.N, len(l.states)
	out := make([]float32, n*MinFrames*s)
	v, next := newLayers(s, 0), newLayers(s, 0)
	v[last][0] = 1
	entered := make([]float64, s)
	var near []int
	for t := range n {
		near = within(near[:0], v[last], negligible*floats.Max(v[last]))
		e, o := emits[t*s:(t+1)*s], onsets[t*s:(t+1)*s]
		total, lasts := 0.0, l.lasts(t)
		sumAt(entered, near, v[last], turned)
		for i, in := range entered {
			if i == 0 {
				next[last][0] = in * float64(e[0])
				total += next[last][0]
				continue
			}
			next[0][i] = in * float64(o[i]) * float64(e[i])
			for k := 1; k < last; k++ {
				next[k][i] = v[k-1][i] * float64(e[i])
			}
			next[last][i] = (v[last-1][i] + v[last][i]) * float64(e[i])
			if !lasts {
				for k := 1; k <= last; k++ {
					next[k][i] = 0
				}
			}
			for k := range next {
				total += next[k][i]
			}
		}
		for k := range next {
			for i := range next[k] {
				next[k][i] /= total
				out[(t*MinFrames+k)*s+i] = float32(next[k][i])
			}
		}
		v, next = next, v
	}
	return out
}

// backward goes back over what forward returned; weight is [to][from]. The posterior takes
// the room of emits and onsets, frame by frame as they are done with.
func (l *Lattice) backward(weight [][]float64, emits, onsets, forward []float32) Posterior {
	n, s := l.frames.N, len(l.states)
	in, begin := make([]float32, s), make([]float32, s)
	b, prev := newLayers(s, 1), newLayers(s, 0)
	entry := make([]float64, s)
	var near []int
	for t := n - 1; t >= 0; t-- {
		f := forward[t*MinFrames*s : (t+1)*MinFrames*s]
		total := 0.0
		for k := range MinFrames {
			for i := range s {
				total += float64(f[k*s+i]) * b[k][i]
			}
		}
		for i := range s {
			sum := 0.0
			for k := range MinFrames {
				sum += float64(f[k*s+i]) * b[k][i]
			}
			in[i] = float32(sum / total)
			if i > 0 {
				begin[i] = float32(float64(f[i]) * b[0][i] / total)
			}
		}
		e, o := emits[t*s:(t+1)*s], onsets[t*s:(t+1)*s]
		entry[0] = b[last][0] * float64(e[0])
		for i := 1; i < s; i++ {
			entry[i] = b[0][i] * float64(e[i]) * float64(o[i])
		}
		scale, lasts := 0.0, l.lasts(t)
		near = within(near[:0], entry, negligible*floats.Max(entry))
		sumAt(prev[last], near, entry, weight)
		for i := range s {
			if i > 0 && lasts {
				for k := range last {
					prev[k][i] = b[k+1][i] * float64(e[i])
				}
				prev[last][i] += b[last][i] * float64(e[i])
			} else if i > 0 {
				for k := range last {
					prev[k][i] = 0
				}
			}
			scale = max(scale, prev[last][i])
		}
		for k := range prev {
			for i := range prev[k] {
				prev[k][i] /= scale
			}
		}
		copy(e, in)
		copy(o, begin)
		b, prev = prev, b
	}
	return Posterior{s, emits, onsets}
}

// negligible is the share of the largest weight below which others are left out
// of a sum.
const negligible = 1e-7

// sumAt sets dst to the sum of the listed rows, each times its share.
func sumAt(dst []float64, at []int, share []float64, rows [][]float64) {
	clear(dst)
	for _, i := range at {
		floats.AddScaled(dst, share[i], rows[i])
	}
}
