package logistic

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A fit of cases drawn from a known model finds that model.
func TestFit(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	want := []float64{0.5, -1.2, 2}
	const constant = 0.7
	var x [][]float64
	var right []bool
	for range 40000 {
		row := []float64{3*rng.NormFloat64() + 2, rng.NormFloat64(), 0.5 * rng.NormFloat64()}
		z := constant
		for k, w := range want {
			z += w * row[k]
		}
		x, right = append(x, row), append(right, rng.Float64() < 1/(1+math.Exp(-z)))
	}
	c, w := Fit(x, right, 1)
	if math.Abs(c-constant) > 0.08 {
		t.Errorf("constant %.3f, want %.3f", c, constant)
	}
	for k := range want {
		if math.Abs(w[k]-want[k]) > 0.08 {
			t.Errorf("weight %d: %.3f, want %.3f", k, w[k], want[k])
		}
	}
}
