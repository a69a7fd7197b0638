package models

import (
	"context"
	"errors"
	"slices"

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

// fitNeighbour prints for each tier the share of the questions that are answered right, by
// the search alone and by the model that is fitted to the other half of the clips.
func fitNeighbour(ctx context.Context, g fit.Given) ([]fit.Numbers, error) {
	ask := asking(heardClip.neighbours)
	all, err := ask.of(ctx, g.Folders)
	if err != nil {
		return nil, err
	}
	if len(all) == 0 {
		return nil, errors.New("no reeds side by side were heard in the clips")
	}
	m, err := ask.fitted(ctx, g, all, besideSearch("without", "with"))
	if err != nil {
		return nil, err
	}
	printMatters(g.Log, reading.NeighbourCues, all, m)
	return []fit.Numbers{numbers(m, reading.NeighbourCues)}, nil
}

// neighbours ask whether a neighbour sounds, of spans of which most is one written event with
// at least one reed of theirs.
func (h heardClip) neighbours() (out []question) {
	spans := h.spans()
	for _, q := range h.reader.Neighbours(h.Sound, spans) {
		written := h.actions(spans[q.Span])
		if !shares(written, h.reader.States[q.Without].Actions) {
			continue
		}
		sounds := slices.Contains(written, q.Reed)
		out = append(out, question{q.Cues, sounds, spans[q.Span].State == q.With, h.truth.Tier, h.number})
	}
	return out
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
