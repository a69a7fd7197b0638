package models

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"blowdraw/decode/logistic"
	"blowdraw/tabber/compare"
	"blowdraw/tabber/lab/fit"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/reading"
)

// ridge is the penalty of the logistic models: see [fit.Fit].
const ridge = 1

// octave tells an octave from its lower reed alone.
func octave() fit.Model {
	return fit.Model{
		Name: "octave",
		Files: []fit.File{{Name: "octave", Says: "log odds that a note is an octave, not its lower reed alone",
			Path: "tabber/reading/octave.json"}},
		Needs: []string{"octaves-1001", "under-octaves", "hard-77", "hard-4242", "people", "under-recorded"},
		On:    []string{ear}, After: []string{"decision"},
		Fit: fitOctave,
	}
}

// question is one that the program asks about a span, and its answer.
type question struct {
	cues   []float64
	octave bool
	heard  bool // an octave, by the search alone
	tier   string
	clip   int
}

// fitOctave prints for each tier the share of the questions that are answered right, by the
// search alone and by the model that is fitted to the other half of the clips.
func fitOctave(ctx context.Context, g fit.Given) ([]fit.Numbers, error) {
	all, err := questions(ctx, g.Folders)
	if err != nil {
		return nil, err
	}
	if len(all) == 0 {
		return nil, errors.New("nothing in the clips could be an octave")
	}
	names := [4]string{"single", "octave", "searched", "modelled"}
	halves := fit.Halves(all, func(q question) int { return q.clip })
	fmt.Fprintln(g.Log, "held out by clip")
	fit.PrintAnswers(g.Log, append(answers(halves[0], octaveOf(halves[1])),
		answers(halves[1], octaveOf(halves[0]))...), names)
	m := octaveOf(all)
	if len(g.Judged) > 0 {
		other, err := questions(ctx, g.Judged)
		if err != nil {
			return nil, err
		}
		fmt.Fprintln(g.Log, "other clips, fitted on all of the above")
		fit.PrintAnswers(g.Log, answers(other, m), names)
	}
	constant, weights := soundAlone(all)
	fmt.Fprintf(g.Log, "by the sound alone (pitch/partials): %.3f", constant)
	for _, w := range weights {
		fmt.Fprintf(g.Log, " %+.3f %s", w.Value, w.Name)
	}
	fmt.Fprintln(g.Log)
	return []fit.Numbers{numbers(m, reading.OctaveCues)}, nil
}

// numbers of a logistic model for what has these names.
func numbers(m logistic.Model, names []string) fit.Numbers {
	out := fit.Numbers{Constant: m.Constant}
	for i, name := range names {
		out.Weights = append(out.Weights, logistic.Weight{Name: name, Value: m.Weights[i]})
	}
	return out
}

// octaveOf is the model that makes the answers likeliest.
func octaveOf(all []question) logistic.Model {
	x, y := make([][]float64, len(all)), make([]bool, len(all))
	for i, q := range all {
		x[i], y[i] = q.cues, q.octave
	}
	var m logistic.Model
	m.Constant, m.Weights = fit.Fit(x, y, ridge)
	return m
}

// soundAlone is the fit to what the partials of the sound tell, without the ear: the
// numbers of partials.Signs.OctaveOdds.
func soundAlone(all []question) (constant float64, weights []logistic.Weight) {
	told := []string{"evenAstray", "oddAstray", "evenMiddle", "oddMiddle", "evenLevel", "second", "usualOdd"}
	few := make([]question, len(all))
	for i, q := range all {
		few[i].octave = q.octave
		for _, name := range told {
			few[i].cues = append(few[i].cues, q.cues[slices.Index(reading.OctaveCues, name)])
		}
	}
	n := numbers(octaveOf(few), told)
	return n.Constant, n.Weights
}

func answers(all []question, m logistic.Model) []fit.Answer {
	out := make([]fit.Answer, len(all))
	for i, q := range all {
		out[i] = fit.Answer{Tier: q.tier, Truth: q.octave, Old: q.heard, Model: m.Odds(q.cues) > 0}
	}
	return out
}

// questions about the heard spans that stand for a written note or octave.
func questions(ctx context.Context, folders []string) ([]question, error) {
	return fromHeard(ctx, folders, func(h heardClip) (out []question) {
		spans := h.spans()
		posed, _ := h.reader.Questions(h.Sound, spans, reading.Nothing())
		for _, q := range posed {
			if octave, ok := h.answer(spans[q.Span], q); ok {
				out = append(out, question{q.Cues, octave, spans[q.Span].State == q.Both, h.truth.Tier, h.number})
			}
		}
		return out
	})
}

// answer tells whether a question's note is an octave; false if it is neither an octave nor
// its lower reed alone.
func (h heardClip) answer(s lattice.Span, q reading.Question) (octave, ok bool) {
	from, to, states := h.Frames.Time(s.From), h.Frames.Time(s.To), h.reader.States
	for _, e := range h.ref.Events {
		if math.Abs(e.Start-from) > onset || to < (e.Start+e.End)/2 {
			continue
		}
		single := compare.SameTab(h.ref.Harp, e.Actions, states[q.Low].Actions)
		octave := compare.SameTab(h.ref.Harp, e.Actions, states[q.Both].Actions)
		if single != octave {
			return octave, true
		}
	}
	return false, false
}
