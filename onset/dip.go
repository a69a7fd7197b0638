package onset

import "math"

// Dips measures at each frame how far in dB the level falls just before it
// against both what went before and what follows, which tells a tongued note of
// the same pitch from vibrato. One value a hop, 0 where the level does not rise
// out of a dip. Levels are taken over 12 ms.
func Dips(x []float64, rate, hop int) []float64 {
	step := rate / 172 // about 5.8 ms
	level := make([]float64, len(x)/step+1)
	for i := range level {
		sum := 0.0
		for j := max(0, (i-1)*step); j < min(len(x), (i+1)*step); j++ {
			sum += x[j] * x[j]
		}
		level[i] = 10 * math.Log10(sum/float64(2*step)+1e-10)
	}
	out := make([]float64, len(x)/hop+1)
	for i := range out {
		t := i * hop / step
		low, at := math.Inf(1), t
		for j := max(0, t-6); j <= min(len(level)-1, t+1); j++ {
			if level[j] < low {
				low, at = level[j], j
			}
		}
		before := highest(level, at-14, at-1)
		after := highest(level, at+1, at+14)
		depth := max(0, min(before, after)-low)
		if highest(level, t+1, t+4)-highest(level, t-1, t) > min(depth/2, 6) {
			out[i] = depth
		}
	}
	return out
}

// highest value of x[from:to+1], clipped to its range.
func highest(x []float64, from, to int) float64 {
	top := math.Inf(-1)
	for i := max(0, from); i <= min(len(x)-1, to); i++ {
		top = max(top, x[i])
	}
	return top
}

// Tongued turns dips into the probability that a note begins: half at 8 dB,
// which throat vibrato seldom reaches.
func Tongued(dips []float64) []float32 {
	out := make([]float32, len(dips))
	for i, d := range dips {
		out[i] = float32(1 / (1 + math.Exp(-(d-8)/1.2)))
	}
	return out
}
