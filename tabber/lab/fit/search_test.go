package fit

import (
	"math"
	"testing"
)

// The least of a sum of squares of logarithms lies where each is nothing.
func TestSearchFactors(t *testing.T) {
	want := []float64{3, 0.2}
	got := SearchFactors([]float64{1, 1}, func(x []float64) float64 {
		sum := 0.0
		for i := range x {
			sum += math.Pow(math.Log(x[i]/want[i]), 2)
		}
		return sum
	})
	for i := range want {
		if math.Abs(got[i]/want[i]-1) > 0.02 {
			t.Errorf("%v, want %v", got, want)
		}
	}
}
