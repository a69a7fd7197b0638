package render

import "math"

// Limit keeps the samples within ±ceiling in place, gently: where a peak would
// pass the ceiling the gain goes down over the 5 ms before and after it. Below
// the ceiling nothing changes.
func Limit(x []float64, rate int, ceiling float64) {
	reach := rate / 200
	need := make([]float64, len(x))
	hit := false
	for i, v := range x {
		need[i] = 1
		if a := math.Abs(v); a > ceiling {
			need[i] = ceiling / a
			hit = true
		}
	}
	if !hit {
		return
	}
	// Lowest gain within reach of each sample, then a mean over the same
	// reach: the mean of gains that are all low enough is low enough.
	low := slidingMin(need, reach)
	sum := make([]float64, len(x)+1)
	for i, g := range low {
		sum[i+1] = sum[i] + g
	}
	for i := range x {
		a, b := max(i-reach, 0), min(i+reach+1, len(x))
		x[i] *= (sum[b] - sum[a]) / float64(b-a)
		x[i] = min(max(x[i], -ceiling), ceiling) // rounding of the sums
	}
}

// slidingMin is the least value within reach samples either side, in one pass
// (a queue of candidates in rising order).
func slidingMin(x []float64, reach int) []float64 {
	out := make([]float64, len(x))
	queue := make([]int, 0, 2*reach+1)
	next := 0
	for i := range x {
		for ; next < len(x) && next <= i+reach; next++ {
			for len(queue) > 0 && x[queue[len(queue)-1]] >= x[next] {
				queue = queue[:len(queue)-1]
			}
			queue = append(queue, next)
		}
		for queue[0] < i-reach {
			queue = queue[1:]
		}
		out[i] = x[queue[0]]
	}
	return out
}
