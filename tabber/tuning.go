package tabber

import (
	"math"

	"blowdraw/pitch"
	"blowdraw/tabber/harp"
)

// Shares of just intonation that are tried when the tuning is measured; makers
// tune equal, just or in between.
var justShares = []float64{0, 0.25, 0.5, 0.75, 1}

const (
	surelySounding = 0.6
	bendable       = 0.3 // weight of notes that bend against notes that don't
)

// tuning estimates how far the recording is off concert pitch in cents: the
// weighted median of what the natural reeds deviate from what a maker gives
// them, for the temperament that leaves the least spread. The offset is that of
// hole 1 blow.
func (t *Transcriber) tuning(f pitch.Frames) float64 {
	best, least := 0.0, math.Inf(1)
	for _, share := range justShares {
		cents, weights := t.deviations(f, harp.Temperament{Just: share})
		offset := pitch.WeightedMedian(cents, weights)
		if math.IsNaN(offset) {
			continue
		}
		spread := 0.0
		for i, c := range cents {
			spread += weights[i] * min(math.Abs(c-offset), 40)
		}
		if spread < least {
			best, least = offset, spread
		}
	}
	return best
}

// deviations of surely sounding natural reeds from the temperament, in cents.
func (t *Transcriber) deviations(f pitch.Frames, temper harp.Temperament) (cents, weights []float64) {
	var expected, trust [pitch.Rows]float64
	for _, a := range t.harp.Actions(false) {
		r := row(t.harp, a)
		if a.Bend != 0 || r < 0 || r >= pitch.Rows || trust[r] > 0 {
			continue
		}
		expected[r], trust[r] = temper.Cents(t.harp, a), 1
		if t.harp.MaxBend(a.Breath, a.Hole) > 0 {
			trust[r] = bendable
		}
	}
	for k, p := range f.Sounding {
		r := k % pitch.Rows
		c := float64(f.Cents[k])
		if p > surelySounding && trust[r] > 0 && !math.IsNaN(c) {
			cents = append(cents, c-expected[r])
			weights = append(weights, trust[r]*float64(p))
		}
	}
	return cents, weights
}
