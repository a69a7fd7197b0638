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
	"blowdraw/tabber/lab/score"
	"blowdraw/tabber/reading"
	"blowdraw/tabber/tab"
)

// confidence is how sure an event is.
func confidence() fit.Model {
	return fit.Model{
		Name: "confidence",
		Files: []fit.File{{Name: "confidence", Path: "tabber/reading/confidence.json",
			Says: "log odds that an event is right: start, holes, breath and bends"}},
		Needs: []string{"hard-1", "hard-77", "hard-4242", "made", "under-hard", "people", "under-recorded"},
		On:    []string{ear}, After: []string{"decision", "octave", "neighbour"},
		Fit: fitConfidence,
	}
}

// doubted is an event that was heard, and whether it is right.
type doubted struct {
	cues  []float64
	right bool
	tier  string
	clip  int
}

// heardOnset is how far the start of an event may be off for a listener to find it right,
// in seconds.
const heardOnset = 0.1

// fitConfidence prints for each tier how well calibrated the model is on clips that it was
// not fitted to: each half of the clips is judged by the model fitted to the other one.
func fitConfidence(ctx context.Context, g fit.Given) ([]fit.Numbers, error) {
	all, err := doubtedEvents(ctx, g.Folders)
	if err != nil {
		return nil, err
	}
	if len(all) == 0 {
		return nil, errors.New("there are no events to fit")
	}
	if old, err := g.Old[0].Of(reading.ConfidenceCues); err == nil {
		fmt.Fprintln(g.Log, "the numbers of the file")
		fit.PrintCalibration(g.Log, doubtedJudged(all, old))
	}
	halves := fit.Halves(all, func(e doubted) int { return e.clip })
	fmt.Fprintln(g.Log, "held out by clip")
	fit.PrintCalibration(g.Log, fit.HeldOut(halves, confidenceOf, doubtedJudged))
	m := confidenceOf(all)
	if len(g.Judged) > 0 {
		other, err := doubtedEvents(ctx, g.Judged)
		if err != nil {
			return nil, err
		}
		fmt.Fprintln(g.Log, "other clips, fitted on all of the above")
		fit.PrintCalibration(g.Log, doubtedJudged(other, m))
	}
	fmt.Fprintln(g.Log, "how much each matters: weight times the cue's standard deviation")
	x, _ := doubtedRows(all)
	fit.PrintMatters(g.Log, reading.ConfidenceCues, x, m.Weights)
	return []fit.Numbers{numbers(m, reading.ConfidenceCues)}, nil
}

// doubtedEvents hears the clips of folders as the program does.
func doubtedEvents(ctx context.Context, folders []string) ([]doubted, error) {
	return fromHeard(ctx, folders, func(h heardClip) (out []doubted) {
		x := h.reader.Read(h.Sound, reading.Nothing())
		events := h.reader.Events(x)
		right := h.right(events)
		for j, e := range events {
			if len(e.Actions) > 0 && near(h.ref.Phrases, (e.Start+e.End)/2) {
				cues := h.reader.ConfidenceCues(h.Frames, x.Posterior, x.Spans[j], x.Near)
				out = append(out, doubted{cues, right[j], h.truth.Tier, h.number})
			}
		}
		return out
	})
}

// right tells which events stand for a written one of the same start and actions. Some
// truths tell when a note begins, others when it is heard: either start will do.
func (h heardClip) right(events []tab.Event) []bool {
	out, ref := make([]bool, len(events)), h.ref.Events
	for _, j := range compare.Match(len(ref), len(events), func(i, j int) bool {
		late := math.Abs(ref[i].Start - h.reader.HeardStart(h.Frames, events[j]))
		late = min(late, math.Abs(ref[i].Start-events[j].Start))
		return math.RoundToEven(1e4*late)/1e4 <= heardOnset &&
			compare.SameTab(h.ref.Harp, ref[i].Actions, events[j].Actions)
	}) {
		if j >= 0 {
			out[j] = true
		}
	}
	return out
}

// near tells whether a time lies in a phrase or within a second of one: what is heard
// elsewhere, where others play, is not a matter of confidence but of package presence.
func near(phrases []tab.Phrase, at float64) bool {
	return len(phrases) == 0 ||
		slices.ContainsFunc(phrases, func(p tab.Phrase) bool { return at > p.Start-1 && at < p.End+1 })
}

func doubtedRows(all []doubted) (x [][]float64, right []bool) {
	for _, e := range all {
		x, right = append(x, e.cues), append(right, e.right)
	}
	return x, right
}

// confidenceOf is the model that makes the events likeliest.
func confidenceOf(all []doubted) logistic.Model {
	var m logistic.Model
	x, right := doubtedRows(all)
	m.Constant, m.Weights = fit.Fit(x, right, ridge)
	return m
}

func doubtedJudged(all []doubted, m logistic.Model) []fit.Judged {
	out := make([]fit.Judged, len(all))
	for i, e := range all {
		out[i] = fit.Judged{Verdict: score.Verdict{Said: m.Probability(e.cues), Right: e.right}, Tier: e.tier}
	}
	return out
}
