package fit

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

// The fit is where the penalised likelihood is flat, also where full Newton steps run
// away: features with long tails that tell the cases apart nearly without error.
func TestFitLongTails(t *testing.T) {
	for _, seed := range []uint64{11, 40, 50, 57, 94} {
		rng := rand.New(rand.NewPCG(seed, 1))
		var x [][]float64
		var right []bool
		for range 30 + rng.IntN(300) {
			v := rng.NormFloat64()
			x = append(x, []float64{v, v * v * v, math.Exp(3 * v), rng.NormFloat64()})
			right = append(right, (math.Abs(v) < 2) != (rng.Float64() < 0.02))
		}
		const ridge = 1e-2
		c, w := Fit(x, right, ridge)
		for k, s := range standardGradient(x, right, ridge, c, w) {
			if math.IsNaN(s) || math.Abs(s) > 1e-4 {
				t.Errorf("seed %d: gradient %d at the fit is %g, want 0", seed, k, s)
			}
		}
	}
}

// standardGradient is the derivative of the penalised log likelihood by the constant and
// by the coefficient of each standardised feature.
func standardGradient(x [][]float64, right []bool, ridge, c float64, w []float64) []float64 {
	mean, sd := Moments(x)
	gradient := make([]float64, len(w)+1)
	for i, row := range x {
		z := c
		for k, v := range row {
			z += w[k] * v
		}
		miss := -1 / (1 + math.Exp(-z))
		if right[i] {
			miss++
		}
		gradient[0] += miss
		for k, v := range row {
			gradient[k+1] += miss * (v - mean[k]) / sd[k]
		}
	}
	for k := range w {
		gradient[k+1] -= ridge * w[k] * sd[k]
	}
	return gradient
}
