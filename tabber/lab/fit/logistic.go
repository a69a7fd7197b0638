// Package fit finds the numbers of fitted models: logistic regression ([Fit]), positive
// numbers by search ([SearchFactors]), how right a model is on what it was not fitted to ([HeldOut] and
// the tables), its file with the checksums of what it stands on ([WriteFile], [Check]), and
// the order in which models that stand on each other are fitted ([Order], [Lab]).
package fit

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
)

// Fit is FitWeighted with every case counting 1.
func Fit(x [][]float64, right []bool, ridge float64) (constant float64, weights []float64) {
	each := make([]float64, len(x))
	for i := range each {
		each[i] = 1
	}
	return FitWeighted(x, right, each, ridge)
}

// FitWeighted is logistic regression on standardised features, with a penalty of ridge/2
// times the sum of squares of their coefficients. Row i of x has the features of case i;
// case i counts counts[i]; the log odds that it is right are constant plus the sum of
// weight times feature. It panics where no fit is found, which finite features do not bring about.
func FitWeighted(x [][]float64, right []bool, counts []float64, ridge float64) (constant float64,
	weights []float64) {
	mean, sd := Moments(x)
	n := len(mean) + 1
	rows := make([]*mat.VecDense, len(x))
	for i := range x {
		rows[i] = mat.NewVecDense(n, nil)
		rows[i].SetVec(0, 1)
		for k, v := range x[i] {
			rows[i].SetVec(k+1, (v-mean[k])/sd[k])
		}
	}
	c := cases{rows, right, counts, ridge}
	problem := optimize.Problem{Func: c.loss, Grad: c.gradient, Hess: c.hessian}
	found, err := optimize.Minimize(problem, make([]float64, n),
		&optimize.Settings{GradientThreshold: 1e-8 * floats.Sum(counts)}, &optimize.Newton{})
	if err != nil {
		panic(fmt.Errorf("fitting %d cases: %w", len(x), err))
	}
	w := found.X
	constant, weights = w[0], make([]float64, n-1)
	for k := range weights {
		weights[k] = w[k+1] / sd[k]
		constant -= weights[k] * mean[k]
	}
	return constant, weights
}

// cases are what a model is fitted to; the first value of each row is 1.
type cases struct {
	rows   []*mat.VecDense
	right  []bool
	counts []float64
	ridge  float64
}

// loss is what is made as small as can be: the negative log likelihood of w (natural log) and its penalty.
func (c cases) loss(w []float64) float64 {
	v, sum := mat.NewVecDense(len(w), w), 0.0
	for _, x := range w[1:] {
		sum += c.ridge / 2 * x * x
	}
	for i, x := range c.rows {
		z := mat.Dot(v, x)
		if c.right[i] {
			z = -z
		}
		sum += c.counts[i] * (max(z, 0) + math.Log1p(math.Exp(-math.Abs(z))))
	}
	return sum
}

// gradient puts the derivatives of loss at w into out.
func (c cases) gradient(out, w []float64) {
	v, sum := mat.NewVecDense(len(w), w), mat.NewVecDense(len(w), out)
	sum.ScaleVec(c.ridge, v)
	sum.SetVec(0, 0)
	for i, x := range c.rows {
		p := 1 / (1 + math.Exp(-mat.Dot(v, x)))
		if c.right[i] {
			p--
		}
		sum.AddScaledVec(sum, c.counts[i]*p, x)
	}
}

// hessian puts the second derivatives of loss at w into out.
func (c cases) hessian(out *mat.SymDense, w []float64) {
	v := mat.NewVecDense(len(w), w)
	out.Zero()
	for k := 1; k < len(w); k++ {
		out.SetSym(k, k, c.ridge)
	}
	for i, x := range c.rows {
		p := 1 / (1 + math.Exp(-mat.Dot(v, x)))
		out.SymRankOne(out, c.counts[i]*p*(1-p), x)
	}
}

// Moments are the means and the standard deviations (at least 0.001) of the
// columns of x.
func Moments(x [][]float64) (mean, sd []float64) {
	n := len(x[0])
	mean, sd = make([]float64, n), make([]float64, n)
	for _, row := range x {
		for k, v := range row {
			mean[k] += v / float64(len(x))
		}
	}
	for _, row := range x {
		for k, v := range row {
			sd[k] += (v - mean[k]) * (v - mean[k]) / float64(len(x))
		}
	}
	for k := range sd {
		sd[k] = max(math.Sqrt(sd[k]), 1e-3)
	}
	return mean, sd
}
