// Package logistic fits logistic models.
package logistic

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Fit is FitWeighted with every case counting 1.
func Fit(x [][]float64, right []bool, ridge float64) (constant float64, weights []float64) {
	each := make([]float64, len(x))
	for i := range each {
		each[i] = 1
	}
	return FitWeighted(x, right, each, ridge)
}

// FitWeighted is logistic regression by Newton's method on standardised features, with
// a penalty of ridge/2 times the sum of squares of their coefficients. Row i of
// x has the features of case i; case i counts counts[i];
// the log odds that it is right are constant plus the sum of weight times feature.
func FitWeighted(x [][]float64, right []bool, counts []float64, ridge float64) (constant float64, weights []float64) {
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
	w := mat.NewVecDense(n, nil)
	for range 30 {
		step := newton(rows, right, counts, w, ridge)
		w.AddVec(w, step)
		if mat.Norm(step, 2) < 1e-9 {
			break
		}
	}
	constant, weights = w.AtVec(0), make([]float64, n-1)
	for k := range weights {
		weights[k] = w.AtVec(k+1) / sd[k]
		constant -= weights[k] * mean[k]
	}
	return constant, weights
}

// newton is one step from w.
func newton(rows []*mat.VecDense, right []bool, counts []float64, w *mat.VecDense, ridge float64) *mat.VecDense {
	n := w.Len()
	slope, bow := mat.NewVecDense(n, nil), mat.NewSymDense(n, nil)
	for k := 1; k < n; k++ {
		slope.SetVec(k, -ridge*w.AtVec(k))
		bow.SetSym(k, k, ridge)
	}
	for i, x := range rows {
		p := 1 / (1 + math.Exp(-mat.Dot(w, x)))
		miss := -p
		if right[i] {
			miss = 1 - p
		}
		slope.AddScaledVec(slope, counts[i]*miss, x)
		bow.SymRankOne(bow, counts[i]*p*(1-p), x)
	}
	var c mat.Cholesky
	c.Factorize(bow)
	step := mat.NewVecDense(n, nil)
	if err := c.SolveVecTo(step, slope); err != nil {
		panic(err)
	}
	return step
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
