package whichharp

import (
	"cmp"
	"math"
	"slices"

	"blowdraw/pitch"
	"blowdraw/tabber/harp"
)

// Reed is how far a natural reed sounds from equal temperament on the recording's
// tuning, in cents, sharp if positive, and for how many seconds it was heard.
type Reed struct {
	Action  harp.Action
	Cents   float64
	Seconds float64
}

// Reeds are the natural reeds that were heard, by hole, blow before draw: the
// median over events, by their length, so that bends and vibrato count little.
func (c Candidate) Reeds() []Reed {
	cents, seconds := map[harp.Action][]float64{}, map[harp.Action][]float64{}
	for _, e := range c.Fit.Events {
		for i, a := range e.Actions {
			if a.Bend == 0 {
				off := 100*(e.Pitches[i]-float64(c.Harp.MIDI(a))) - c.Fit.Tuning.Cents
				cents[a] = append(cents[a], off)
				seconds[a] = append(seconds[a], e.End-e.Start)
			}
		}
	}
	var out []Reed
	for a := range cents {
		r := Reed{Action: a, Cents: pitch.WeightedMedian(cents[a], seconds[a])}
		for _, s := range seconds[a] {
			r.Seconds += s
		}
		out = append(out, r)
	}
	slices.SortFunc(out, func(a, b Reed) int {
		return cmp.Or(cmp.Compare(a.Action.Hole, b.Action.Hole), cmp.Compare(a.Action.Breath, b.Action.Breath))
	})
	return out
}

// Scheme is a temperament and by how many cents the reeds lie off it on average.
type Scheme struct {
	Temperament harp.Temperament
	Off         float64
}

// Schemes compares the reeds with each named temperament, best first. Each may
// shift as a whole: the recording's tuning is not known beforehand.
func Schemes(h harp.Harp, reeds []Reed) []Scheme {
	var out []Scheme
	for _, t := range harp.Temperaments() {
		var apart, weights []float64
		for _, r := range reeds {
			apart = append(apart, r.Cents-t.Cents(h, r.Action))
			weights = append(weights, math.Sqrt(r.Seconds))
		}
		shift, sum, total := pitch.WeightedMedian(apart, weights), 0.0, 0.0
		for i, a := range apart {
			sum, total = sum+weights[i]*math.Abs(a-shift), total+weights[i]
		}
		out = append(out, Scheme{t, sum / total})
	}
	slices.SortStableFunc(out, func(a, b Scheme) int { return cmp.Compare(a.Off, b.Off) })
	return out
}

const (
	strayMost = 40  // cents: what strays further counts no more
	ordinary  = 8.0 // cents that a natural reed's events stray by
	bendable  = 0.5 // weight of reeds that bend
)

// strainOf sums over natural reeds by how many cents more than ordinary they
// stray from the best temperament, weighted with the square root of the seconds.
// Reeds in tune with one another make it negative: bends are not, nor what was
// taken for a reed that it is not.
func strainOf(f Fit) float64 {
	var deviations, just, weights []float64
	for _, e := range f.Events {
		for i, a := range e.Actions {
			if a.Bend != 0 {
				continue
			}
			w := math.Sqrt(e.End - e.Start)
			if f.Harp.MaxBend(a.Breath, a.Hole) > 0 {
				w *= bendable
			}
			weights = append(weights, w)
			deviations = append(deviations, 100*(e.Pitches[i]-float64(f.Harp.MIDI(a))))
			just = append(just, harp.Temperament{Just: 1}.Cents(f.Harp, a))
		}
	}
	least := 0.0
	for n, share := range []float64{0, 0.5, 1} {
		apart := slices.Clone(deviations)
		for i := range apart {
			apart[i] -= share * just[i]
		}
		middle, sum := pitch.WeightedMedian(apart, weights), 0.0
		for i, d := range apart {
			sum += weights[i] * (min(math.Abs(d-middle), strayMost) - ordinary)
		}
		if n == 0 || sum < least {
			least = sum
		}
	}
	return least
}
