package hearing

import (
	"math"

	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/lattice"

	"gonum.org/v1/gonum/floats"
)

// Shares of just intonation that are tried when the tuning is measured; makers
// tune equal, just or in between.
var justShares = [...]float64{0, 0.25, 0.5, 0.75, 1}

// SurelySounding is the probability from which a row surely sounds.
const SurelySounding = 0.6

// bendable is the weight of notes that bend against notes that don't.
const bendable = 0.3

// Tuning is how a recording and the harp on it are tuned.
type Tuning struct {
	Cents float64 // the recording's offset from A4 = 440 Hz, at hole 1 blow
	Error float64 // its standard error
	Just  float64 // share of just intonation in the harp's temperament that fits best
}

const (
	strayMost = 40   // cents: what strays further counts no more
	nearlyAs  = 1.15 // a temperament with so many times the least strain may be the right one
	leastOff  = 1.0  // cents, standard error of the best measurement
	unknownBy = 50.0 // cents, standard error without a measurement
)

// MeasureTuning measures the tuning from what a harp plays. It takes the weighted median of
// what the natural reeds deviate from what a maker gives them, for the temperament that
// leaves the least strain. The error is that of a median of so many reeds, and what the
// choice of temperament leaves open.
func MeasureTuning(h harp.Harp, f pitch.Frames) Tuning {
	var offsets, strains []float64
	best := -1
	for _, share := range justShares {
		cents, weights := deviations(h, f, harp.Temperament{Just: share})
		offset := pitch.WeightedMedian(cents, weights)
		if math.IsNaN(offset) {
			return Tuning{Cents: f.Axis.Cents, Error: unknownBy}
		}
		strain := 0.0
		for i, c := range cents {
			strain += weights[i] * min(math.Abs(c-offset), strayMost)
		}
		offsets, strains = append(offsets, offset), append(strains, strain)
		if best < 0 || strain < strains[best] {
			best = len(offsets) - 1
		}
	}
	apart := 0.0
	for i, s := range strains {
		if s <= nearlyAs*strains[best] {
			apart = max(apart, math.Abs(offsets[i]-offsets[best]))
		}
	}
	_, weights := deviations(h, f, harp.Temperament{})
	spread := 1.25 * strains[best] / floats.Sum(weights) // of a normal distribution
	return Tuning{
		Cents: f.Axis.Cents + offsets[best],
		Error: math.Hypot(max(leastOff, 1.25*spread/math.Sqrt(float64(max(1, soundingReeds(h, f))))), apart/2),
		Just:  justShares[best],
	}
}

// soundingReeds counts the natural rows that surely sound at some time.
func soundingReeds(h harp.Harp, f pitch.Frames) int {
	var sounds [pitch.Rows]bool
	for k, p := range f.Sounding {
		if p > SurelySounding && !math.IsNaN(float64(f.Cents[k])) {
			sounds[k%pitch.Rows] = true
		}
	}
	n := 0
	for r, here := range sounds {
		if here && len(h.At(h.Base+r-pitch.RowBelow, false)) > 0 {
			n++
		}
	}
	return n
}

// deviations of surely sounding natural reeds from the temperament, in cents.
func deviations(h harp.Harp, f pitch.Frames, temper harp.Temperament) (cents, weights []float64) {
	var expected, trust [pitch.Rows]float64
	for _, a := range h.Actions(false) {
		r := lattice.Row(h, a)
		if a.Bend != 0 || r < 0 || r >= pitch.Rows || trust[r] > 0 {
			continue
		}
		expected[r], trust[r] = temper.Cents(h, a), 1
		if h.MaxBend(a.Breath, a.Hole) > 0 {
			trust[r] = bendable
		}
	}
	for k, p := range f.Sounding {
		r := k % pitch.Rows
		c := float64(f.Cents[k])
		if p > SurelySounding && trust[r] > 0 && !math.IsNaN(c) {
			cents = append(cents, c-expected[r])
			weights = append(weights, trust[r]*float64(p))
		}
	}
	return cents, weights
}
