package models

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"blowdraw/decode/logistic"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/lab/fit"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/reading"
)

// neighbour tells whether a reed sounds with those beside it.
func neighbour() fit.Model {
	return fit.Model{
		Name: "neighbour",
		Files: []fit.File{{Name: "neighbour", Says: "log odds that a reed sounds with its neighbours",
			Path: "tabber/reading/neighbour.json"}},
		Needs: []string{"people", "under-recorded", "hard-1", "hard-77", "hard-4242", "doubles-1001", "made"},
		On:    []string{ear}, After: []string{"decision"},
		Fit: fitNeighbour,
	}
}

// beside is a question about a neighbour, and its answer.
type beside struct {
	cues          []float64
	sounds, found bool
	tier          string
	clip          int
}

// fitNeighbour prints for each tier the share of the questions that are answered right, by
// the search alone and by the model that is fitted to the other half of the clips.
func fitNeighbour(ctx context.Context, g fit.Given) ([]fit.Numbers, error) {
	all, err := besides(ctx, g.Folders)
	if err != nil {
		return nil, err
	}
	if len(all) == 0 {
		return nil, errors.New("no reeds side by side were heard in the clips")
	}
	names := [4]string{"without", "with", "searched", "modelled"}
	halves := fit.Halves(all, func(q beside) int { return q.clip })
	fmt.Fprintln(g.Log, "held out by clip")
	fit.PrintAnswers(g.Log, append(besideAnswers(halves[0], neighbourOf(halves[1])),
		besideAnswers(halves[1], neighbourOf(halves[0]))...), names)
	m := neighbourOf(all)
	x, _ := besideRows(all)
	fmt.Fprintln(g.Log, "how much each matters: weight times the cue's standard deviation")
	fit.PrintMatters(g.Log, reading.NeighbourCues, x, m.Weights)
	return []fit.Numbers{numbers(m, reading.NeighbourCues)}, nil
}

func besideRows(all []beside) (x [][]float64, sounds []bool) {
	for _, q := range all {
		x, sounds = append(x, q.cues), append(sounds, q.sounds)
	}
	return x, sounds
}

// neighbourOf is the model that makes the answers likeliest.
func neighbourOf(all []beside) logistic.Model {
	var m logistic.Model
	x, sounds := besideRows(all)
	m.Constant, m.Weights = fit.Fit(x, sounds, ridge)
	return m
}

func besideAnswers(all []beside, m logistic.Model) []fit.Answer {
	out := make([]fit.Answer, len(all))
	for i, q := range all {
		out[i] = fit.Answer{Tier: q.tier, Truth: q.sounds, Old: q.found, Model: m.Odds(q.cues) > 0}
	}
	return out
}

// besides are the questions about spans of which most is one written event with at least
// one reed of theirs.
func besides(ctx context.Context, folders []string) ([]beside, error) {
	return fromHeard(ctx, folders, func(h heardClip) (out []beside) {
		spans := h.spans()
		for _, q := range h.reader.Neighbours(h.Sound, spans) {
			written := h.actions(spans[q.Span])
			if !shares(written, h.reader.States[q.Without].Actions) {
				continue
			}
			sounds := slices.Contains(written, q.Reed)
			out = append(out, beside{q.Cues, sounds, spans[q.Span].State == q.With, h.truth.Tier, h.number})
		}
		return out
	})
}

// actions of the written event that most of a span is; none if it is no one's.
func (h heardClip) actions(s lattice.Span) []harp.Action {
	from, to := h.Frames.Time(s.From), h.Frames.Time(s.To)
	for _, e := range h.ref.Events {
		if min(e.End, to)-max(e.Start, from) >= (to-from)/2 {
			return e.Actions
		}
	}
	return nil
}

// shares tells whether some actions are among others.
func shares(a, b []harp.Action) bool {
	return slices.ContainsFunc(a, func(x harp.Action) bool { return slices.Contains(b, x) })
}
