package beat

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

const (
	meanSeconds = 0.5   // the strength is taken against its mean over so long
	multiples   = 4     // of a period at which the strength must resemble itself
	comb        = 30.0  // how much the resemblance counts, per window
	give        = 0.012 // share of the period by which it may miss
)

// resemblance is the autocorrelation of a stretch of the strength, less its
// local mean and never below 0, by lag in hops up to the longest that matters.
// Lag 0 has 1.
func (s Strength) resemblance(from, to float64) []float64 {
	i := max(0, int((from-s.Start)/s.Hop))
	j := min(len(s.Values), int((to-s.Start)/s.Hop))
	if i >= j {
		return nil
	}
	x := rises(s.Values[i:j], int(meanSeconds/s.Hop/2))
	longest := min(len(x)/2, int(multiples*60/Slowest*(1+give)/s.Hop)+2)
	out := make([]float64, longest+1)
	for lag := range out {
		out[lag] = floats.Dot(x[lag:], x[:len(x)-lag]) / float64(len(x)-lag)
	}
	if out[0] <= 0 {
		return nil
	}
	for lag := len(out) - 1; lag >= 0; lag-- {
		out[lag] /= out[0]
	}
	return out
}

// rises are what stands out over the mean of 2*reach+1 values, with the mean
// of the whole taken off.
func rises(x []float32, reach int) []float64 {
	sums := make([]float64, len(x)+1)
	for i, v := range x {
		sums[i+1] = sums[i] + float64(v)
	}
	out := make([]float64, len(x))
	mean := 0.0
	for i, v := range x {
		a, b := max(0, i-reach), min(len(x), i+reach+1)
		out[i] = max(0, float64(v)-(sums[b]-sums[a])/float64(b-a))
		mean += out[i] / float64(len(x))
	}
	for i := range out {
		out[i] -= mean
	}
	return out
}

// pulse is how much a stretch resembles itself after one period in seconds and
// its multiples: the mean over them, each the best within give.
func pulse(resemblance []float64, hop, period float64) float64 {
	sum, n := 0.0, 0
	for k := 1.0; k <= multiples; k++ {
		lag := k * period / hop
		lo, hi := int(math.Floor(lag*(1-give))), int(math.Ceil(lag*(1+give)))
		if hi >= len(resemblance) {
			break
		}
		best := resemblance[lo]
		for _, v := range resemblance[lo : hi+1] {
			best = max(best, v)
		}
		sum, n = sum+best, n+1
	}
	if n == 0 {
		return 0
	}
	return sum / float64(n)
}
