package reading

import (
	"math"
	"testing"

	"blowdraw/decode/logistic"
)

// Against the definition: no other lean is likelier, by a search in small steps.
func TestLean(t *testing.T) {
	for _, c := range []struct {
		odds []float64
		was  []bool
	}{
		{nil, nil},
		{[]float64{0.5}, []bool{false}},
		{[]float64{2, 1.5, -0.5, 3}, []bool{false, false, false, true}},
		{[]float64{-1, -2, -1.5, -0.2, 6}, []bool{true, true, true, true, true}},
		{[]float64{-6, -6, -6, -6, -6, -6}, []bool{true, true, true, true, true, true}},
	} {
		likely := func(by float64) float64 {
			sum := -by * by / 2 / usualLean / usualLean
			for i, o := range c.odds {
				p := logistic.Probability(o + by)
				if !c.was[i] {
					p = 1 - p
				}
				sum += math.Log(p)
			}
			return sum
		}
		got, best := lean(c.odds, c.was), -10.0
		for by := -10.0; by <= 10; by += 0.001 {
			if likely(by) > likely(best) {
				best = by
			}
		}
		if math.Abs(got-best) > 0.002 {
			t.Errorf("%v, %v: %.4f, want %.4f", c.odds, c.was, got, best)
		}
	}
}
