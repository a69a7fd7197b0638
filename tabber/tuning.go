package tabber

import (
	"math"

	"blowdraw/pitch"
	"blowdraw/tabber/harp"

	"gonum.org/v1/gonum/floats"
)

// Shares of just intonation that are tried when the tuning is measured; makers
// tune equal, just or in between.
var justShares = []float64{0, 0.25, 0.5, 0.75, 1}

const (
	surelySounding = 0.6
	bendable       = 0.3 // weight of notes that bend against notes that don't
)

// Tuning is how a recording and the harp on it are tuned.
type Tuning struct {
	Cents float64 // the recording's offset from A4 = 440 Hz, at hole 1 blow
	Error float64 // its standard error
	Just  float64 // share of just intonation in the harp's temperament that fits best
}

// tuning estimates how far the recording is off concert pitch in cents: see
// measureTuning.
func (t *Transcriber) tuning(f pitch.Frames) float64 {
	return t.measureTuning(f).Cents - f.Axis.Cents
}

const (
	strayMost = 40   // cents: what strays further counts no more
	nearlyAs  = 1.15 // a temperament with so many times the least strain may be the right one
	leastOff  = 1.0  // cents, standard error of the best measurement
	unknownBy = 50.0 // cents, standard error without a measurement
)

// measureTuning takes the weighted median of what the natural reeds deviate from
// what a maker gives them, for the temperament that leaves the least strain. The
// error is that of a median of so many reeds, and what the choice of temperament
// leaves open.
func (t *Transcriber) measureTuning(f pitch.Frames) Tuning {
	var offsets, strains []float64
	best := -1
	for _, share := range justShares {
		cents, weights := t.deviations(f, harp.Temperament{Just: share})
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
	_, weights := t.deviations(f, harp.Temperament{})
	spread := 1.25 * strains[best] / floats.Sum(weights) // of a normal distribution
	return Tuning{
		Cents: f.Axis.Cents + offsets[best],
		Error: math.Hypot(max(leastOff, 1.25*spread/math.Sqrt(float64(max(1, t.soundingReeds(f))))), apart/2),
		Just:  justShares[best],
	}
}

// soundingReeds counts the natural rows that surely sound at some time.
func (t *Transcriber) soundingReeds(f pitch.Frames) int {
	var sounds [pitch.Rows]bool
	for k, p := range f.Sounding {
		if p > surelySounding && !math.IsNaN(float64(f.Cents[k])) {
			sounds[k%pitch.Rows] = true
		}
	}
	n := 0
	for r, here := range sounds {
		if here && len(t.harp.At(t.harp.Base+r-pitch.RowBelow, false)) > 0 {
			n++
		}
	}
	return n
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

// A record may run up to a semitone fast or slow, but the reeds alone tell an
// offset only to within half a semitone: beyond that everything seems to lie a
// row higher or lower than it does. Which rows the harp has tells the two apart.
const (
	mostOff     = 100  // cents
	bendValue   = 0.4  // of a bend's row, against 1 for a natural reed's and 0 for no note of the harp
	betterBy    = 0.15 // of the mean value that another reading must gain
	leastFrames = 170  // rows times frames that must surely sound (2 s)
)

// resolve is the offset in cents that fits the harp best, of those that lie whole
// semitones from a measured one.
func (t *Transcriber) resolve(f pitch.Frames, cents float64) float64 {
	var value, sounds [pitch.Rows]float64
	for _, a := range t.harp.Actions(false) {
		if r := row(t.harp, a); r >= 0 && r < pitch.Rows && a.Bend == 0 {
			value[r] = 1
		} else if r >= 0 && r < pitch.Rows {
			value[r] = max(value[r], bendValue)
		}
	}
	total := 0.0
	for k, p := range f.Sounding {
		if p > surelySounding {
			sounds[k%pitch.Rows]++
			total++
		}
	}
	if total < leastFrames {
		return cents
	}
	fit := func(rows int) float64 {
		sum := 0.0
		for r, n := range sounds {
			if to := r - rows; to >= 0 && to < pitch.Rows {
				sum += n * value[to]
			}
		}
		return sum / total
	}
	best, most := 0, fit(0)+betterBy
	for _, rows := range []int{-1, 1} {
		if off := cents + 100*float64(rows); math.Abs(off) <= mostOff && fit(rows) > most {
			best, most = rows, fit(rows)
		}
	}
	return cents + 100*float64(best)
}
