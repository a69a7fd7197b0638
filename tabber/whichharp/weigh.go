package whichharp

import (
	"cmp"
	_ "embed"
	"math"
	"slices"

	"blowdraw/decode/logistic"
	"blowdraw/tabber/harp"
)

// Weights of the conditional logit model: log odds for each unit of what is in [Cues]. They
// are fitted to rendered performances (package tabber/lab/models).
type Weights struct {
	Evidence, Sounding, Strange, Strain, Apart, Usage float64
	Trust                                             float64 // in each note's likelihood, within usage
}

// WeightNames names the numbers of Weights, in order.
var WeightNames = []string{"evidence", "sounding", "strange", "strain", "apart", "usage", "trust"}

//go:embed weights.json
var weightsFile []byte

// LearnedWeights are the fitted ones, in the order of WeightNames.
func LearnedWeights() []float64 { return logistic.MustRead(weightsFile, WeightNames).Weights }

// WeightsOf are those of numbers in the order of WeightNames.
func WeightsOf(x []float64) Weights {
	return Weights{
		Evidence: x[0], Sounding: x[1], Strange: x[2], Strain: x[3], Apart: x[4], Usage: x[5], Trust: x[6],
	}
}

var fitted = WeightsOf(LearnedWeights())

// Cues are what a fit is weighed by.
type Cues struct {
	harp.Harp
	evidence, sounding, strange float64   // see Fit
	strain                      float64   // see strainOf
	apart                       float64   // cents between the reeds' tuning and that of all that sounds
	likes                       []float64 // see likes
}

// CuesOf are the cues of a fit.
func CuesOf(f Fit) Cues {
	return Cues{
		f.Harp,
		f.Evidence,
		f.Sounding,
		f.Strange,
		strainOf(f),
		min(math.Abs(f.Tuning.Cents-f.Shift), strayMost),
		likes(f),
	}
}

// Shares of kinds of harps: common practice, no source. They are compared only
// with one another, so layouts that are not listed count as common.
var (
	octaveShare = map[int]float64{-1: 0.06, 0: 0.93, 1: 0.01}
	layoutShare = map[string]float64{
		"country":        0.03,
		"natural-minor":  0.03,
		"raised-blow-3":  0.02,
		"harmonic-minor": 0.02,
	}
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
func (w Weights) weigh(r Cues, songKey int) (float64, []Position) {
	usage, positions := positionsOf(r.Harp, r.likes, songKey, w.Trust)
	return prior(r.Harp) + w.Evidence*r.evidence + w.Sounding*r.sounding + w.Strange*r.strange +
		w.Strain*r.strain + w.Apart*r.apart + w.Usage*usage, positions
}

func sortPositions(p []Position) {
	slices.SortStableFunc(p, func(a, b Position) int { return cmp.Compare(b.Probability, a.Probability) })
}
