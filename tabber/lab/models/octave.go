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

// fitOctave prints for each tier the share of the questions that are answered right, by the
// search alone and by the model that is fitted to the other half of the clips.
func fitOctave(ctx context.Context, g fit.Given) ([]fit.Numbers, error) {
	ask := asking(heardClip.octaves)
	all, err := ask.of(ctx, g.Folders)
	if err != nil {
		return nil, err
	}
	if len(all) == 0 {
		return nil, errors.New("nothing in the clips could be an octave")
	}
	m, err := ask.fitted(ctx, g, all, besideSearch("single", "octave"))
	if err != nil {
		return nil, err
	}
	constant, weights := soundAlone(all)
	fmt.Fprintf(g.Log, "by the sound alone (pitch/partials): %.3f", constant)
	for _, w := range weights {
		fmt.Fprintf(g.Log, " %+.3f %s", w.Value, w.Name)
	}
	fmt.Fprintln(g.Log)
	return []fit.Numbers{numbers(m, reading.OctaveCues)}, nil
}

// soundAlone is the fit to what the partials of the sound tell, without the ear: the
// numbers of partials.Signs.OctaveOdds.
func soundAlone(all []question) (constant float64, weights []logistic.Weight) {
	told := []string{"evenAstray", "oddAstray", "evenMiddle", "oddMiddle", "evenLevel", "second", "usualOdd"}
	few := make([]question, len(all))
	for i, q := range all {
		few[i].yes = q.yes
		for _, name := range told {
			few[i].cues = append(few[i].cues, q.cues[slices.Index(reading.OctaveCues, name)])
		}
	}
	n := numbers(modelOf(few), told)
	return n.Constant, n.Weights
}

// octaves ask whether it is an octave of the heard spans that stand for a written note or octave.
func (h heardClip) octaves() (out []question) {
	spans := h.spans()
	posed, _ := h.reader.Questions(h.Sound, spans, reading.Nothing())
	for _, q := range posed {
		if octave, ok := h.answer(spans[q.Span], q); ok {
			out = append(out, question{q.Cues, octave, spans[q.Span].State == q.Both, h.truth.Tier, h.number})
		}
	}
	return out
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
