package bars

import (
	"fmt"
	"math"

	"blowdraw/decode/logistic"
	"blowdraw/onset/form"
)

// SureModels are the models that FitSureness fits.
var SureModels = []string{form.Agreed, form.SureFollowed, form.SureStruck, form.Alone}

// FitSureness fits the SureModels of whether bars are right, in their order, for which the
// same takes are heard; their weights are in the order of [form.SureNames].
func FitSureness(progress func(string)) ([]logistic.Model, error) {
	takes, err := rendered(weightTakes, progress)
	if err != nil {
		return nil, err
	}
	found := make([][]form.Rival, len(takes))
	each(takes, func(i int, k take) {
		found[i] = form.Rivals(k.sound, k.beatsFound(), k.heard, form.Options{Meter: 4, Key: &k.key})
	})
	var out []logistic.Model
	for _, model := range SureModels {
		var told [][]float64
		var right []bool
		for i, rivals := range found {
			for _, r := range rivals {
				if r.Model == model {
					told, right = append(told, r.Told), append(right, takes[i].right(r.Bars))
				}
			}
		}
		m, loss := fitLogistic(told, right)
		progress(fmt.Sprintf("%s: %.3f %.3f, loss %.4f over %d", model, m.Constant, m.Weights, loss, len(told)))
		m.Constant = rounded(m.Constant, 2)
		for i, w := range m.Weights {
			m.Weights[i] = rounded(w, 2)
		}
		out = append(out, m)
	}
	return out, nil
}

// ridge is the penalty of a case times the sum of squares of constant and weights.
const ridge = 0.00025

// fitLogistic is a logistic regression with a small ridge, by descent along one number
// after the other: few cases, and values that are log odds.
func fitLogistic(told [][]float64, right []bool) (m logistic.Model, loss float64) {
	w := make([]float64, len(told[0])+1)
	model := func() logistic.Model { return logistic.Model{Constant: w[0], Weights: w[1:]} }
	cost := func() float64 {
		sum := 0.0
		for i, x := range told {
			p := model().Probability(x)
			if !right[i] {
				p = 1 - p
			}
			sum -= math.Log(p + 1e-9)
		}
		for _, v := range w {
			sum += ridge * float64(len(told)) * v * v
		}
		return sum / float64(len(told))
	}
	loss = cost()
	for step := 0.5; step > 0.002; {
		better := false
		for i := range w {
			for _, d := range []float64{step, -step} {
				w[i] += d
				if l := cost(); l < loss {
					loss, better = l, true
				} else {
					w[i] -= d
				}
			}
		}
		if !better {
			step /= 2
		}
	}
	return model(), loss
}
