package models

import (
	"context"
	"fmt"
	"io"
	"math"
	"slices"

	"blowdraw/decode/logistic"
	"blowdraw/decode/parallel"
	"blowdraw/tabber/lab/fit"
	"blowdraw/tabber/lab/score"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/reading"
	"blowdraw/tabber/tab"
)

// decision are the weights and priors of the search for the likeliest playing, and what
// says how spans end, which are searched together.
func decision() fit.Model {
	return fit.Model{
		Name: "decision",
		Files: []fit.File{
			{Name: "decision", Path: "tabber/lattice/decision.json",
				Says: "log weights of evidence, moves and kinds of playing in the search for the likeliest states"},
			{Name: "ends", Path: "tabber/reading/ends.json",
				Says: "how spans end and join, searched together with the decision"},
		},
		Needs: []string{"hard-1", "hard-77", "made", "people", "paired", "under-recorded"}, On: []string{ear},
		Searched: true, Fit: searchDecision,
	}
}

// setting is a choice of all numbers of the search.
type setting struct {
	method lattice.Method
	ends   reading.Ends
}

// knob is a number of a setting with the first step by which it is changed.
type knob struct {
	name string
	at   func(*setting) *float64
	step float64
}

// firstSteps of the numbers that are searched, in their order. Overbends and what no harp
// plays are not in the clips.
var firstSteps = []struct {
	name string
	step float64
}{
	{"sounding", 0.05}, {"breath", 0.05}, {"count", 0.05}, {"lean", 0.2}, {"attack", 0.15}, {"event", 0.1},
	{"attackFloor", 1}, {"attackCeil", 0.7}, {"mask", 1}, {"masked", 0.05},
	{"change", 0.4}, {"start", 0.4}, {"stop", 0.4}, {"breathTurn", 0.2},
	{"jump", 0.1}, {"farthest", 0.4}, {"bend", 0.3}, {"double", 0.4}, {"bentDouble", 0.5}, {"split", 0.4},
	{"rareSplit", 0.5}, {"chord", 0.4}, {"wideOctave", 0.5}, {"bigChord", 0.4},
}

// knobs lists the numbers that are searched.
func knobs() []knob {
	var out []knob
	numbers := lattice.Numbers()
	for _, first := range firstSteps {
		i := slices.IndexFunc(numbers, func(n lattice.Number) bool { return n.Name == first.name })
		of := numbers[i].Of
		out = append(out, knob{first.name, func(s *setting) *float64 { return of(&s.method) }, first.step})
	}
	return append(out,
		knob{"fall", func(s *setting) *float64 { return &s.ends.Fall }, 1},
		knob{"ends sounding", func(s *setting) *float64 { return &s.ends.Sounding }, 0.015},
		knob{"surely", func(s *setting) *float64 { return &s.ends.Surely }, 3},
		knob{"late", func(s *setting) *float64 { return &s.ends.Late }, 0.02},
		knob{"apart", func(s *setting) *float64 { return &s.ends.Apart }, 1},
	)
}

// searchDecision changes one number at a time and keeps what raises the mean score of the
// clips as a whole; where a round through all of them gains nothing the steps are halved,
// and it ends when they are small, or after so many rounds.
func searchDecision(ctx context.Context, g fit.Given) ([]fit.Numbers, error) {
	clips, err := fromHeard(ctx, g.Folders, func(h heardClip) []heardClip { return []heardClip{h} })
	if err != nil {
		return nil, err
	}
	best := setting{lattice.Learned(), reading.LearnedEnds()}
	top := objective(clips, best)
	fmt.Fprintf(g.Log, "at first %.4f\n", top)
	printSummary(g.Log, clips, best)
	const last = 0.2
	scale := 1.0
	for round := 0; round < g.Rounds && scale >= last; round++ {
		gained := false
		for _, k := range knobs() {
			for _, sign := range []float64{1, -1} {
				for {
					if err := ctx.Err(); err != nil {
						return nil, err
					}
					try := best
					*k.at(&try) += sign * scale * k.step
					x := objective(clips, try)
					if x <= top+1e-5 {
						break
					}
					top, best, gained = x, try, true
					fmt.Fprintf(g.Log, "%.4f %s %.3f\n", x, k.name, *k.at(&try))
				}
			}
		}
		if !gained {
			scale /= 2
		}
	}
	fmt.Fprintf(g.Log, "at last %.4f\n", top)
	printSummary(g.Log, clips, best)
	var found fit.Numbers
	for _, n := range lattice.Numbers() {
		found.Weights = append(found.Weights, logistic.Weight{Name: n.Name, Value: *n.Of(&best.method)})
	}
	e := best.ends
	ends := numbers(logistic.Model{Weights: []float64{e.Fall, e.Sounding, e.Surely, e.Late, e.Apart}}, reading.EndNumbers)
	return []fit.Numbers{found, ends}, nil
}

// measured are the measures of every clip with a setting.
func measured(clips []heardClip, s setting) []score.Measures {
	out := make([]score.Measures, len(clips))
	parallel.Each(len(clips), func(_, i int) {
		h := clips[i]
		h.reader = reading.NewBy(h.ref.Harp, lattice.Choice{Several: true}, s.method, s.ends)
		est := tab.Document{Harp: h.ref.Harp}
		var notes []phrasing.Heard
		for _, span := range h.reader.Parted(h.Frames, unasked(h.spans())) {
			e := h.reader.Heard(h.Frames, h.reader.Bare(h.Frames, span.Span))
			e.Confidence = 0.5
			for k, row := range h.reader.States[span.State].Rows {
				e.Pitches[k] = h.Frames.Axis.MIDI(row) + h.Frames.Axis.Cents/100
			}
			est.Events, notes = append(est.Events, e), append(notes, phrasing.Heard{Event: e})
		}
		est.Phrases = phrasing.Find(notes)
		out[i] = score.Compare(h.ref, est, onset)
	})
	return out
}

// unasked are spans about which nothing was asked.
func unasked(spans []lattice.Span) []reading.Span {
	out := make([]reading.Span, len(spans))
	for i, s := range spans {
		out[i].Span = s
	}
	return out
}

// objective weighs tiers equally, and leaves out clips in which nothing is played.
func objective(clips []heardClip, s setting) float64 {
	sums, counts := map[string]float64{}, map[string]float64{}
	for i, x := range measured(clips, s) {
		v := x.NoteF + 1.5*x.TabF + 0.7*x.OffsetF + 0.15*x.PhraseF
		v += 0.4*known(x.TextureF, x.TabF) + 0.3*known(x.Splits, x.TabF)
		if math.IsNaN(v) {
			continue
		}
		sums[clips[i].truth.Tier] += v / 4.05
		counts[clips[i].truth.Tier]++
	}
	total, n := 0.0, 0.0
	for _, tier := range tiersOf(clips) {
		total, n = total+sums[tier]/counts[tier], n+1
	}
	return total / n
}

// known is a measure, or another one where it does not apply.
func known(x, otherwise float64) float64 {
	if math.IsNaN(x) {
		return otherwise
	}
	return x
}

// tiersOf lists the tiers of clips in the order in which they come.
func tiersOf(clips []heardClip) (out []string) {
	for _, c := range clips {
		if !slices.Contains(out, c.truth.Tier) {
			out = append(out, c.truth.Tier)
		}
	}
	return out
}

// printSummary prints the means of tiers with a setting.
func printSummary(w io.Writer, clips []heardClip, s setting) {
	all := measured(clips, s)
	for _, tier := range tiersOf(clips) {
		n, note, tabF, off := 0.0, 0.0, 0.0, 0.0
		for i, x := range all {
			if clips[i].truth.Tier == tier && !math.IsNaN(x.TabF) {
				n, note, tabF, off = n+1, note+x.NoteF, tabF+x.TabF, off+x.OffsetF
			}
		}
		fmt.Fprintf(w, "  %-8s note %.3f tab %.3f off %.3f\n", tier, note/n, tabF/n, off/n)
	}
}
