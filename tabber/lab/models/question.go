package models

import (
	"context"
	"fmt"
	"io"

	"blowdraw/decode/logistic"
	"blowdraw/tabber/lab/fit"
	"blowdraw/tabber/lab/score"
)

// ridge is the penalty of the logistic models: see [fit.Fit].
const ridge = 1

// question is one of yes or no about something that was heard, and its answer.
type question struct {
	cues  []float64
	yes   bool // in truth
	heard bool // yes by the search alone, where it has an answer
	tier  string
	clip  int // number of the clip
}

// answered is a question with the probability that a model gives yes.
type answered struct {
	question
	said float64
}

// asking is how the questions of a model are asked of what was heard of a clip.
type asking func(heardClip) []question

// of are the questions of all clips of some folders.
func (ask asking) of(ctx context.Context, folders []string) ([]question, error) {
	return fromHeard(ctx, folders, ask)
}

// fitted is the model of all questions. It prints a table of how right a model is on what it was
// not fitted to: each half of the clips by that of the other one, and then the clips that are
// only judged, if there are any, by the one of all.
func (ask asking) fitted(
	ctx context.Context,
	g fit.Given,
	all []question,
	table func(io.Writer, []answered),
) (logistic.Model, error) {
	halves := fit.Halves(all, func(q question) int { return q.clip })
	fmt.Fprintln(g.Log, "held out by clip")
	table(g.Log, fit.HeldOut(halves, modelOf, answers))
	m := modelOf(all)
	if len(g.Judged) == 0 {
		return m, nil
	}
	other, err := ask.of(ctx, g.Judged)
	if err != nil {
		return m, err
	}
	fmt.Fprintln(g.Log, "other clips, fitted on all of the above")
	table(g.Log, answers(other, m))
	return m, nil
}

// modelOf questions is the model that makes their answers likeliest.
func modelOf(all []question) logistic.Model {
	right := make([]bool, len(all))
	for i, q := range all {
		right[i] = q.yes
	}
	var m logistic.Model
	m.Constant, m.Weights = fit.Fit(cuesOf(all), right, ridge)
	return m
}

func cuesOf(all []question) [][]float64 {
	x := make([][]float64, len(all))
	for i, q := range all {
		x[i] = q.cues
	}
	return x
}

func answers(all []question, m logistic.Model) []answered {
	out := make([]answered, len(all))
	for i, q := range all {
		out[i] = answered{q, m.Probability(q.cues)}
	}
	return out
}

// numbers of a logistic model for what has these names.
func numbers(m logistic.Model, names []string) fit.Numbers {
	out := fit.Numbers{Constant: m.Constant}
	for i, name := range names {
		out.Weights = append(out.Weights, logistic.Weight{Name: name, Value: m.Weights[i]})
	}
	return out
}

// judged are answers as verdicts, each with its tier.
func judged(all []answered) []fit.Judged {
	out := make([]fit.Judged, len(all))
	for i, a := range all {
		out[i] = fit.Judged{Verdict: score.Verdict{Said: a.said, Right: a.yes}, Tier: a.tier}
	}
	return out
}

// besideSearch prints the share of answers that are right by the search alone and by a model;
// names are those of no and of yes.
func besideSearch(no, yes string) func(io.Writer, []answered) {
	return func(w io.Writer, all []answered) {
		out := make([]fit.Answer, len(all))
		for i, a := range all {
			out[i] = fit.Answer{Tier: a.tier, Truth: a.yes, Old: a.heard, Model: a.said > 0.5}
		}
		fit.PrintAnswers(w, out, [4]string{no, yes, "searched", "modelled"})
	}
}

// printMatters prints how much each cue of a model matters.
func printMatters(w io.Writer, names []string, all []question, m logistic.Model) {
	fmt.Fprintln(w, "how much each matters: weight times the cue's standard deviation")
	fit.PrintMatters(w, names, cuesOf(all), m.Weights)
}
