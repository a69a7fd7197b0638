package clips

import (
	"context"
	"fmt"
	"math/rand/v2"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/render/effect"
)

// Positions makes clips for telling the harp: each of the twelve usual harps in
// first, second and third position, once with each source of sound, in turn
// close, in a hall and through an amplifier. The same seed gives the same clips.
// It needs what [Clips] needs.
func Positions(seed int64) ([]Clip, error) {
	var all []Clip
	err := eachCategory(context.Background(), positions(), seed, func(clips []Clip) error {
		all = append(all, clips...)
		return nil
	})
	return all, err
}

func positions() []category {
	var out []category
	for position := 1; position <= 3; position++ {
		out = append(out, category{
			name: fmt.Sprintf("position-%d", position), position: position, count: 2 * len(usualKeys),
			prepare: func(rng *rand.Rand, i int) (harp.Harp, habits) {
				h := mustParse(usualKeys[i/2], "richter")
				return h, idiom(rng, h, position)
			},
			treat: func(rng *rand.Rand, i int, x []float64) []float64 {
				switch (i/2 + position) % 3 {
				case 0:
					return effect.Reverb(x, Rate, effect.Room{T60: 0.2 + 0.3*rng.Float64(), Direct: 8 + 6*rng.Float64(),
						Seed: rng.Uint64()})
				case 1:
					return effect.Reverb(x, Rate, effect.Room{T60: 0.8 + 1.2*rng.Float64(), Direct: 1 + 5*rng.Float64(),
						PreDelay: 0.02 * rng.Float64(), Seed: rng.Uint64()})
				}
				return amplified(rng, x)
			},
		})
	}
	return out
}

// idiom is how a position is usually played: which holes, on which scale, where
// phrases rest, and how much chords and splits are used (common practice, no
// source).
func idiom(rng *rand.Rand, h harp.Harp, position int) habits {
	var hab habits
	switch position {
	case 1:
		switch rng.IntN(3) {
		case 0: // the low end, with blue notes by bending
			hab = plain(h, 1, []int{0, 2, 3, 4, 5, 7, 9, 10})
			hab.lowest, hab.top = 1, 4
		case 1: // melodies in the middle
			hab = plain(h, 1, majorScale)
			hab.lowest, hab.top = 3, 8
		default: // the high end, with blow bends
			hab = plain(h, 1, []int{0, 2, 3, 4, 6, 7, 9, 10})
			hab.lowest, hab.top = 7, 10
		}
		hab.home, hab.blow = []int{0, 4, 7}, 0.7
	case 2:
		hab = plain(h, 2, bluesScale)
		if rng.IntN(3) == 0 {
			hab = plain(h, 2, []int{0, 2, 4, 7, 9, 10})
		}
		hab.lowest, hab.top = 1, 6
		hab.home, hab.blow = []int{0, 7, 10}, 0.25
	default:
		hab = plain(h, 3, dorian)
		hab.lowest, hab.top = 1, 7
		if rng.IntN(2) == 0 {
			hab.lowest, hab.top = 4, 10
		}
		hab.home, hab.blow = []int{0, 3, 7}, 0.2
	}
	hab.double, hab.split, hab.chord = 0.2*rng.Float64(), 0.16*rng.Float64(), 0.1*rng.Float64()
	if rng.IntN(6) == 0 { // single notes only
		hab.double, hab.split, hab.chord = 0, 0, 0
	}
	return hab
}
