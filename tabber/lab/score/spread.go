package score

import (
	"math/rand/v2"
	"slices"
)

// resamplings is how often [Bootstrap] draws.
const resamplings = 2000

// Bootstrap tells how far a figure over clips depends on which clips there are: clips are
// drawn with replacement, as many as there are, 2000 times (Efron 1979, "Bootstrap
// methods: another look at the jackknife"; from memory), and the figures of 5 % and of
// 95 % of the draws returned. Draws without a figure are left out; ok is false if all
// are. The draws are the same every time.
func Bootstrap[T any](clips []T, of func([]T) Figure) (low, high float64, ok bool) {
	if len(clips) == 0 {
		return 0, 0, false
	}
	rng := rand.New(rand.NewPCG(1979, 1))
	var figures []float64
	drawn := make([]T, len(clips))
	for range resamplings {
		for i := range drawn {
			drawn[i] = clips[rng.IntN(len(clips))]
		}
		if v, ok := of(drawn).Value(); ok {
			figures = append(figures, v)
		}
	}
	if len(figures) == 0 {
		return 0, 0, false
	}
	slices.Sort(figures)
	n := len(figures)
	return figures[n/20], figures[n-1-n/20], true
}

// Middle is the median, the mean of the two in the middle where there are two, and what
// 10 % and 90 % of the values lie below; ok is false for no values.
func Middle(values []float64) (median, low, high float64, ok bool) {
	n := len(values)
	if n == 0 {
		return 0, 0, 0, false
	}
	v := slices.Sorted(slices.Values(values))
	return (v[(n-1)/2] + v[n/2]) / 2, v[n/10], v[n-1-n/10], true
}
