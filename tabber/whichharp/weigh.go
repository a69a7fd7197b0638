package whichharp

import (
	"cmp"
	"math"
	"slices"

	"blowdraw/tabber/harp"
)

// weights of the conditional logit model: log odds for each unit of what is in a
// reading. They are fitted on rendered performances; fit_test.go says how.
type weights struct {
	evidence, sounding, strange, strain, apart, usage float64
	trust                                             float64 // in each note's likelihood, within usage
}

var fitted = weights{evidence: 8.8, sounding: 2.7, strange: -7.8, strain: -0.11, apart: -0.093, usage: 1.3, trust: 0.16}

// reading is what a fit is weighed by.
type features struct {
	harp.Harp
	evidence, sounding, strange float64   // see Fit
	strain                      float64   // see strainOf
	apart                       float64   // cents between the reeds' tuning and that of all that sounds
	likes                       []float64 // see likes
}

func read(f Fit) features {
	return features{f.Harp, f.Evidence, f.Sounding, f.Strange, strainOf(f), min(math.Abs(f.Tuning.Cents-f.Shift), strayMost), likes(f)}
}

// Shares of kinds of harps: common practice, no source. They are compared only
// with one another, so layouts that are not listed count as common.
var (
	octaveShare = map[int]float64{-1: 0.06, 0: 0.93, 1: 0.01}
	layoutShare = map[string]float64{"country": 0.03, "natural-minor": 0.03, "raised-blow-3": 0.02, "harmonic-minor": 0.02}
)

// prior is the log share of a harp among all.
func prior(h harp.Harp) float64 {
	p := octaveShare[octave(h)]
	if share, ok := layoutShare[h.Layout.Name]; ok {
		p *= share
	}
	return math.Log(p)
}

// octave is 0 for the usual harps, G to F#, -1 for low and 1 for high ones.
func octave(h harp.Harp) int {
	const lowestUsual = 55 // hole 1 blow of the G harp
	return int(math.Floor(float64(h.Base-lowestUsual) / 12))
}

// weigh is the log weight of a harp and the probabilities of its positions.
func (w weights) weigh(r features, songKey int) (float64, []Position) {
	usage, positions := positionsOf(r.Harp, r.likes, songKey, w.trust)
	return prior(r.Harp) + w.evidence*r.evidence + w.sounding*r.sounding + w.strange*r.strange +
		w.strain*r.strain + w.apart*r.apart + w.usage*usage, positions
}

func sortPositions(p []Position) {
	slices.SortStableFunc(p, func(a, b Position) int { return cmp.Compare(b.Probability, a.Probability) })
}
