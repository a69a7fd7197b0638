package tabber

import (
	"math"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/presence"

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
// row higher or lower than it does. Which notes the harp has tells the two apart:
// read on the wrong rows, a good share of what a harp surely plays is not on it,
// and much of the rest is bent.
const (
	mostOff     = 100  // cents
	hinted      = 0.02 // share of what sounds on rows that the harp lacks from which on it is worth a look who plays
	suspicious  = 0.05 // share of the playing on notes that the harp lacks from which on another reading is tried,
	fewerBy     = 0.05 // and by which it must have less of these,
	naturalBy   = 0.05 // and more natural notes
	leastPlayed = 2.0  // seconds of playing that must have been heard
)

// reading is what a harp plays if a clip is heard at an offset: seconds, in which
// each event counts by the probability that a harp plays it.
type reading struct {
	cents                    float64
	frames                   pitch.Frames
	played, natural, strange float64
}

// read weighs what was heard at an offset.
func (t *Transcriber) read(c decode.Clip, f pitch.Frames, cents float64) reading {
	r := reading{cents: cents, frames: f}
	events, _ := t.events(c, f, always)
	var who presence.Track
	who.Add(t.harp, f, c, events)
	p := who.Players(events)
	for _, e := range events {
		_, sure := p.Of(e)
		seconds := sure * (e.End - e.Start)
		r.played += seconds
		switch {
		case len(e.Actions) == 0:
			r.strange += seconds
		case e.Actions[0].Bend == 0:
			r.natural += seconds
		}
	}
	return r
}

// lacking is the share of what surely sounds on rows that the harp lacks.
func (t *Transcriber) lacking(f pitch.Frames) float64 {
	var has [pitch.Rows]bool
	for _, a := range t.harp.Actions(false) {
		if r := row(t.harp, a); r >= 0 && r < pitch.Rows {
			has[r] = true
		}
	}
	all, lacks := 0.0, 0.0
	for k, p := range f.Sounding {
		if p > surelySounding {
			all++
			if !has[k%pitch.Rows] {
				lacks++
			}
		}
	}
	return lacks / max(all, 1)
}

// fits reports whether a harp plays, and what is on it.
func (r reading) fits() bool { return r.played >= leastPlayed && r.strange < suspicious*r.played }

// better reports whether a reading fits the harp surely better than another. A harp
// read on the wrong rows may not sound like one at all.
func (r reading) better(than reading) bool {
	if than.played < leastPlayed {
		return r.fits() && r.played > than.played+leastPlayed
	}
	return r.played >= leastPlayed && r.strange/r.played < than.strange/than.played-fewerBy &&
		r.natural/r.played > than.natural/than.played+naturalBy
}

// measured hears a clip of unknown offset at concert pitch and, as far as needed,
// at the offset measured there; if what the harp plays then is not all on it, also
// at the offsets a semitone away that a record may have.
func (t *Transcriber) measured(c decode.Clip, listen func(cents float64) pitch.Frames) (pitch.Frames, float64) {
	at := func(cents float64) (pitch.Frames, float64) {
		f := listen(cents)
		by := t.tuning(f)
		f.Shift(cents + by)
		return f, cents + by
	}
	f := listen(0)
	cents := t.tuning(f)
	if t.learned == nil {
		return listen(cents), cents
	}
	if math.Abs(cents) > realign {
		f, cents = at(cents)
	} else {
		f.Shift(cents)
	}
	if t.lacking(f) < hinted {
		return f, cents
	}
	best := t.read(c, f, cents)
	if best.fits() {
		return f, cents
	}
	for _, rows := range []float64{-1, 1} {
		if off := cents + 100*rows; math.Abs(off) <= mostOff {
			g, off := at(off)
			if r := t.read(c, g, off); r.better(best) {
				best = r
			}
		}
	}
	return best.frames, best.cents
}
