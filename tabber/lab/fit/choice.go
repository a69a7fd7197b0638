package fit

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
)

// Choice is a case in which one of several alternatives is true. Row i of Features has
// those of alternative i.
type Choice struct {
	Features [][]float64
	Truth    int
}

// FitChoice is the conditional logit (McFadden 1974, "Conditional logit analysis of
// qualitative choice behavior"; from memory): the weights under which the true
// alternatives are likeliest, the probability of each being proportional to the
// exponential of the sum of weight times feature, with a penalty of ridge/2 times the sum
// of the weights' squares.
func FitChoice(cases []Choice, ridge float64) ([]float64, error) {
	if len(cases) == 0 {
		return nil, fmt.Errorf("fitting a choice: there are no cases")
	}
	c := choices{cases, ridge}
	problem := optimize.Problem{Func: c.loss, Grad: c.gradient, Hess: c.hessian}
	settings := &optimize.Settings{GradientThreshold: 1e-8 * float64(len(cases))}
	found, err := optimize.Minimize(problem, make([]float64, len(cases[0].Features[0])), settings,
		&optimize.Newton{})
	if err != nil {
		return nil, fmt.Errorf("fitting a choice to %d cases: %w", len(cases), err)
	}
	return found.X, nil
}

type choices struct {
	cases []Choice
	ridge float64
}

// probabilities of a case's alternatives.
func (c Choice) probabilities(w []float64) []float64 {
	p := make([]float64, len(c.Features))
	for i, x := range c.Features {
		p[i] = floats.Dot(w, x)
	}
	sum := floats.LogSumExp(p)
	for i := range p {
		p[i] = math.Exp(p[i] - sum)
	}
	return p
}

// loss is the negative log likelihood of w and its penalty.
func (c choices) loss(w []float64) float64 {
	sum := c.ridge / 2 * floats.Dot(w, w)
	for _, k := range c.cases {
		z := make([]float64, len(k.Features))
		for i, x := range k.Features {
			z[i] = floats.Dot(w, x)
		}
		sum += floats.LogSumExp(z) - z[k.Truth]
	}
	return sum
}

// gradient puts the derivatives of loss at w into out.
func (c choices) gradient(out, w []float64) {
	floats.ScaleTo(out, c.ridge, w)
	for _, k := range c.cases {
		for i, p := range k.probabilities(w) {
			floats.AddScaled(out, p, k.Features[i])
		}
		floats.Sub(out, k.Features[k.Truth])
	}
}

// hessian puts the second derivatives of loss at w into out.
func (c choices) hessian(out *mat.SymDense, w []float64) {
	out.Zero()
	for i := range w {
		out.SetSym(i, i, c.ridge)
	}
	for _, k := range c.cases {
		mean := make([]float64, len(w))
		for i, p := range k.probabilities(w) {
			floats.AddScaled(mean, p, k.Features[i])
			out.SymRankOne(out, p, mat.NewVecDense(len(w), k.Features[i]))
		}
		out.SymRankOne(out, -1, mat.NewVecDense(len(w), mean))
	}
}

// SearchFactors makes a loss of positive numbers smaller: it changes one at a time by
// 1+step or its inverse as long as that helps, and halves step, 1/2 at first, when nothing
// helps any more, down to 0.01.
func SearchFactors(start []float64, loss func([]float64) float64) []float64 {
	const gain, first, last = 1e-6, 0.5, 0.01
	best := append([]float64(nil), start...)
	least := loss(best)
	for step := first; step > last; {
		gained := false
		for i := range best {
			for _, factor := range []float64{1 + step, 1 / (1 + step)} {
				try := append([]float64(nil), best...)
				try[i] *= factor
				if x := loss(try); x < least-gain {
					best, least, gained = try, x, true
				}
			}
		}
		if !gained {
			step /= 2
		}
	}
	return best
}
