package beat

import "math"

// loose is how far, in bins, a beat may lie from where the window before expects
// it; anything farther costs turn.
const loose = 2.0

// place decides where the beats of every window lie, so that they go on from
// window to window (Viterbi over the bins of a beat).
func (c curve) place(begins []begin) {
	total, before := make([]float64, bins), make([][]int, len(c))
	for i, p := range c {
		before[i] = make([]int, bins)
		if i > 0 {
			total = c[i-1].carry(total, p, before[i])
		}
		for k, v := range p.places(begins) {
			total[k] += v
		}
	}
	k := argmax(total)
	for i := len(c) - 1; i >= 0; i-- {
		c[i].beat = c[i].at(k)
		k = before[i][k]
	}
}

// at is the time of the beat at a bin.
func (p point) at(bin int) float64 { return p.from + float64(bin)/bins*p.period }

// places is the log likelihood of the window's grid at each bin.
func (p point) places(begins []begin) []float64 {
	folded, out := make([]float64, bins), make([]float64, bins)
	fold(between(begins, p.from, p.to), p.from, p.period, folded)
	t := grids[p.grid].template(p.period)
	for bin := range out {
		for k, v := range folded {
			out[bin] += evidence * v * t[(k-bin+bins)%bins]
		}
	}
	return out
}

// carry takes the totals of window p's bins on to those of the next, where beats
// may be off by a little halfway between the two; before is where each came from.
func (p point) carry(total []float64, next point, before []int) []float64 {
	middle := (p.middle + next.middle) / 2
	out := make([]float64, bins)
	for k := range out {
		out[k] = math.Inf(-1)
		there := (middle - next.at(k)) / next.period
		for j, v := range total {
			z := bins / loose * math.Remainder(there-(middle-p.at(j))/p.period, 1)
			if v -= min(z*z/2, turn); v > out[k] {
				out[k], before[k] = v, j
			}
		}
	}
	return out
}
