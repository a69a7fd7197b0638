package pitch

import (
	"math"
	"slices"
	"sort"
)

// WeightedMedian of the values; NaN if none has weight. Weights are not negative.
func WeightedMedian(values, weights []float64) float64 {
	var order []int
	total := 0.0
	for i, w := range weights {
		if w > 0 {
			order = append(order, i)
			total += w
		}
	}
	if len(order) == 0 {
		return math.NaN()
	}
	sort.Slice(order, func(a, b int) bool {
		if values[order[a]] != values[order[b]] {
			return values[order[a]] < values[order[b]]
		}
		return order[a] < order[b]
	})
	sum := 0.0
	for n, i := range order {
		sum += weights[i]
		if sum > total/2 {
			return values[i]
		}
		if sum == total/2 && n+1 < len(order) {
			return (values[i] + values[order[n+1]]) / 2
		}
	}
	return values[order[len(order)-1]]
}

// Median of the values; NaN if there are none.
func Median(values []float64) float64 {
	if len(values) == 0 {
		return math.NaN()
	}
	v := slices.Sorted(slices.Values(values))
	return (v[(len(v)-1)/2] + v[len(v)/2]) / 2
}

// Percentile of the values, q in 0 to 1; NaN if there are none.
func Percentile(values []float32, q float64) float64 {
	if len(values) == 0 {
		return math.NaN()
	}
	v := append([]float32(nil), values...)
	slices.Sort(v)
	return float64(v[int(q*float64(len(v)-1)+0.5)])
}
