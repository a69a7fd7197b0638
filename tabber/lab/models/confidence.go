package models

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"

	"blowdraw/tabber/compare"
	"blowdraw/tabber/lab/fit"
	"blowdraw/tabber/reading"
	"blowdraw/tabber/tab"
)

// confidence is how sure an event is.
func confidence() fit.Model {
	return fit.Model{
		Name: "confidence",
		Files: []fit.File{{Name: "confidence", Path: "tabber/reading/confidence.json",
			Says: "log odds that an event is right: start, holes, breath and bends"}},
		Needs: []string{"hard-1", "hard-77", "hard-4242", "made", "under-hard", "people", "under-recorded",
			"positions-501", "played-501", "played-502"},
		On: []string{ear}, After: []string{"decision", "octave"},
		Fit: fitConfidence,
	}
}

// heardOnset is how far the start of an event may be off for a listener to find it right,
// in seconds.
const heardOnset = 0.1

// fitConfidence prints for each tier how well calibrated the model is on clips that it was
// not fitted to, and the numbers of the file on all.
func fitConfidence(ctx context.Context, g fit.Given) ([]fit.Numbers, error) {
	ask := asking(heardClip.doubts)
	all, err := ask.of(ctx, g.Folders)
	if err != nil {
		return nil, err
	}
	if len(all) == 0 {
		return nil, errors.New("there are no events to fit")
	}
	calibration := func(w io.Writer, all []answered) { fit.PrintCalibration(w, judged(all)) }
	if old, err := g.Old[0].Of(reading.ConfidenceCues); err == nil {
		fmt.Fprintln(g.Log, "the numbers of the file")
		calibration(g.Log, answers(all, old))
	}
	m, err := ask.fitted(ctx, g, all, calibration)
	if err != nil {
		return nil, err
	}
	printMatters(g.Log, reading.ConfidenceCues, all, m)
	return []fit.Numbers{numbers(m, reading.ConfidenceCues)}, nil
}

// leastPlayed is the share of an event in which the harp sounds from which on it is a
// matter of confidence whether it is right; who plays the others is one of package presence,
// and what that says counts beside it.
const leastPlayed = 0.3

// doubts ask of each event that the harp plays whether it is right.
func (h heardClip) doubts() (out []question) {
	x := h.reader.Read(h.Sound, reading.Nothing())
	events := h.reader.Events(x)
	right := h.right(events)
	for j, e := range events {
		if len(e.Actions) > 0 && sounds(h.ref.Events, e) >= leastPlayed {
			cues := h.reader.ConfidenceCues(h.Frames, x.Posterior, x.Spans, j)
			out = append(out, question{cues: cues, yes: right[j], tier: h.truth.Tier, clip: h.number})
		}
	}
	return out
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

// sounds is the share of an event in which one of those written sounds.
func sounds(written []tab.Event, e tab.Event) float64 {
	sum := 0.0
	for _, w := range written {
		sum += max(0, min(w.End, e.End)-max(w.Start, e.Start))
	}
	return sum / (e.End - e.Start)
}
