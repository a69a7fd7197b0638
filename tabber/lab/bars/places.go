package bars

import (
	"fmt"
	"math"
	"slices"

	"blowdraw/decode/parallel"
	"blowdraw/onset/form"
)

// FitPlaces fits what is heard of followed beats for their places in the bar, by descent
// along one weight after the other: weights in the order of [form.PlaceNames].
func FitPlaces(progress func(string)) ([]float64, error) {
	takes, err := rendered(weightTakes, progress)
	if err != nil {
		return nil, err
	}
	set := follow(takes)
	names := form.PlaceNames()
	w := slices.Clone(placesFrom)
	best, right := set.loss(w)
	say := func() {
		progress(fmt.Sprintf("places: loss %.4f, right in %d of %d; %.4g", best, right, len(set), w))
	}
	say()
	for step, round := 0.5, 0; round < 5; round++ {
		improved := false
		for i := range w {
			old := w[i]
			for _, v := range []float64{old * (1 + step), old / (1 + step)} {
				w[i] = v
				if names[i] == "change on first" && v > 0.8 {
					continue
				}
				if loss, ok := set.loss(w); loss < best-1e-4 {
					best, right, old, improved = loss, ok, v, true
				}
			}
			w[i] = old
		}
		say()
		if !improved {
			step /= 2
		}
	}
	for i := range w {
		w[i] = significant(w[i], 3)
	}
	return w, nil
}

// placesFrom are the weights, in the order of [form.PlaceNames], from which the search
// for those of followed beats begins.
var placesFrom = []float64{6, 3, 1.5, 0.6, 0.3, 0.1, 0.25, 0.02, 0.004}

// significant digits of v.
func significant(v float64, digits int) float64 {
	return rounded(v, digits-1-int(math.Floor(math.Log10(math.Abs(v)))))
}

// placed are followed beats with their true places in the bar, from 0.
type placed struct {
	form.Followed
	places []int
}

type placedSet []placed

// follow the beats of takes; those with a wrong tempo, and those of which more than a
// tenth lie off the true ones, are left out.
func follow(takes []take) (out placedSet) {
	found := make([]placed, len(takes))
	each(takes, func(i int, k take) {
		f, ok := form.Follow(k.sound, k.beatsFound(), k.heard, form.Options{Key: &k.key})
		if !ok || math.Abs(60/beatLength(f.Beats)/k.bpm-1) > 0.04 {
			return
		}
		var places []int
		bad := 0
		for _, b := range f.Beats {
			j, d := k.place(b)
			if math.Abs(d) > 0.25 && b > k.beats[0] && b < k.beats[len(k.beats)-1] {
				bad++
			}
			places = append(places, ((j-k.first)%4+4)%4)
		}
		if bad*10 <= len(f.Beats) {
			found[i] = placed{f, places}
		}
	})
	for _, p := range found {
		if p.places != nil {
			out = append(out, p)
		}
	}
	return out
}

// loss is the mean negative logarithm of the probability of true places, and in how many
// takes most places are right.
func (set placedSet) loss(w []float64) (loss float64, right int) {
	losses, rights := make([]float64, len(set)), make([]bool, len(set))
	parallel.Each(len(set), func(_, i int) {
		places := set[i].Places(w)
		sum, ok := 0.0, 0
		for j, p := range places {
			v := p[set[i].places[j]]
			sum += v / float64(len(places))
			if v > 0.5 {
				ok++
			}
		}
		losses[i], rights[i] = -math.Log(0.98*sum+0.005), 2*ok > len(places)
	})
	for i, v := range losses {
		loss += v / float64(len(set))
		if rights[i] {
			right++
		}
	}
	return loss, right
}
