package fit

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A fit of choices drawn from a known model finds that model.
func TestFitChoice(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	want := []float64{0.8, -1.5, 0.4}
	cases := make([]Choice, 20000)
	for i := range cases {
		c := &cases[i]
		for k := range 4 {
			// The last feature is that of an alternative, as a bias is.
			bias := 0.0
			if k == 2 {
				bias = 1
			}
			c.Features = append(c.Features, []float64{2 * rng.NormFloat64(), rng.NormFloat64(), bias})
		}
		u := rng.Float64()
		for k, p := range c.probabilities(want) {
			if u -= p; u < 0 {
				c.Truth = k
				break
			}
		}
	}
	got, err := FitChoice(cases, 0)
	if err != nil {
		t.Fatal(err)
	}
	for i := range want {
		if math.Abs(got[i]-want[i]) > 0.06 {
			t.Errorf("weight %d is %.3f, want %.3f", i, got[i], want[i])
		}
	}
	if tight, err := FitChoice(cases[:100], 1e6); err != nil || math.Abs(tight[0]) > 1e-3 {
		t.Errorf("with a penalty that leaves nothing: %v, %v", tight, err)
	}
	if _, err := FitChoice(nil, 1); err == nil {
		t.Error("a fit to nothing")
	}
}

// Of two alternatives the conditional logit is logistic regression on the difference of
// their features: the same numbers by another way.
func TestFitChoiceOfTwo(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	var cases []Choice
	var x [][]float64
	var right []bool
	for range 500 {
		a, b := []float64{rng.NormFloat64(), 1}, []float64{rng.NormFloat64(), 0}
		c := Choice{Features: [][]float64{a, b}}
		if rng.Float64() > 1/(1+math.Exp(-(a[0]-b[0])-0.5)) {
			c.Truth = 1
		}
		cases = append(cases, c)
		x, right = append(x, []float64{a[0] - b[0]}), append(right, c.Truth == 0)
	}
	got, err := FitChoice(cases, 1e-9)
	if err != nil {
		t.Fatal(err)
	}
	constant, weights := Fit(x, right, 1e-9)
	if math.Abs(got[0]-weights[0]) > 1e-4 || math.Abs(got[1]-constant) > 1e-4 {
		t.Errorf("%v, want %v and %g", got, weights, constant)
	}
}

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
