package clips

import (
	"math/rand/v2"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/render/effect"
)

// Scales in semitones above the song key.
var (
	bluesScale = []int{0, 3, 4, 5, 6, 7, 10}
	majorScale = []int{0, 2, 4, 5, 7, 9, 11}
	minorScale = []int{0, 2, 3, 5, 7, 8, 10}
	dorian     = []int{0, 2, 3, 5, 7, 9, 10}
)

// usualKeys are the keys of the usual harps, G to F#.
var usualKeys = []string{"G", "Ab", "A", "Bb", "B", "C", "Db", "D", "Eb", "E", "F", "F#"}

func categories() []category {
	return []category{
		// notes of 2 to 6 s in a room with a reverberation of 2 to 4 s
		{name: "held",
			prepare: func(rng *rand.Rand, i int) (harp.Harp, habits) {
				h, hab := usual(rng)
				hab.notes, hab.space = span{1, 3}, span{0.8, 2.5}
				hab.length = func(rng *rand.Rand, _, _ int) float64 { return 2 + 4*rng.Float64()*rng.Float64() }
				hab.shaped, hab.double, hab.split = 0.5, 0.15, 0.1
				return h, hab
			},
			treat: func(rng *rand.Rand, _ int, x []float64) []float64 {
				return effect.Reverb(x, Rate, effect.Room{T60: 2 + 2*rng.Float64(), Direct: -2 + 8*rng.Float64(),
					PreDelay: 0.03 * rng.Float64(), Seed: rng.Uint64()})
			}},
		// harps an octave below the usual ones
		{name: "low",
			prepare: func(rng *rand.Rand, i int) (harp.Harp, habits) {
				h := mustParse([]string{"low F", "low D", "low Eb", "low C", "low E", "low F#"}[i], "richter")
				hab := inPosition(rng, h)
				hab.lowest, hab.top = 1, 6
				hab.double, hab.split = 0.12, 0.08
				return h, hab
			}, treat: varied},
		// country tuning and natural minor
		{name: "layout",
			prepare: func(rng *rand.Rand, i int) (harp.Harp, habits) {
				key := usualKeys[rng.IntN(len(usualKeys))]
				// Pairs, so that both layouts sound on both kinds of reeds.
				if i/2%2 == 0 {
					h := mustParse(key, "country")
					hab := plain(h, 2, majorScale)
					return h, hab
				}
				h := mustParse(key, "natural-minor")
				hab := plain(h, 2, minorScale)
				if rng.IntN(2) == 0 {
					hab = plain(h, 1, dorian)
				}
				return h, hab
			}, treat: varied},
		// runs of notes of 60 to 120 ms
		{name: "fast",
			prepare: func(rng *rand.Rand, i int) (harp.Harp, habits) {
				h, hab := usual(rng)
				hab.notes, hab.leap = span{5, 14}, 3
				tempo := span{0.06 + 0.03*rng.Float64(), 0.12}
				hab.length = func(rng *rand.Rand, i, n int) float64 {
					if i == n-1 {
						return 0.35 + 0.6*rng.Float64()
					}
					return tempo.draw(rng)
				}
				hab.attack = span{0.012, 0.03}
				hab.double, hab.split, hab.slur = 0.03, 0, 0.4
				return h, hab
			}, treat: varied},
		// double stops, three in four of them blown, the second reed often 6 to 12 dB weaker
		{name: "double",
			prepare: func(rng *rand.Rand, i int) (harp.Harp, habits) {
				h, hab := usual(rng)
				hab.double, hab.split, hab.blow = 0.5, 0, 0.75
				hab.lowest, hab.top = 1, 8
				hab.second = span{-6, 0}
				if i/2 != 0 {
					hab.second = span{-12, -6}
				}
				return h, hab
			}, treat: varied},
		// octaves against single notes, the weaker reed down to -10 dB
		{name: "octave",
			prepare: func(rng *rand.Rand, i int) (harp.Harp, habits) {
				h, hab := usual(rng)
				hab.double, hab.split, hab.blow = 0, 0.5, 0.5
				hab.octaves = true
				hab.second = span{-10, 0}
				hab.length = func(rng *rand.Rand, _, _ int) float64 { return 0.2 + 0.9*rng.Float64() }
				return h, hab
			}, treat: varied},
		// lines where the hole changes in one breath, without an attack
		{name: "legato",
			prepare: func(rng *rand.Rand, i int) (harp.Harp, habits) {
				h, hab := usual(rng)
				hab.slur, hab.notes, hab.leap = 1, span{5, 10}, 3
				hab.length = func(rng *rand.Rand, _, _ int) float64 { return 0.15 + 0.55*rng.Float64() }
				hab.double, hab.split = 0.05, 0
				return h, hab
			}, treat: varied},
		// solo through an overdriven amplifier
		{name: "amp",
			prepare: func(rng *rand.Rand, i int) (harp.Harp, habits) {
				h, hab := usual(rng)
				hab.double, hab.split = 0.15, 0.12
				hab.second = span{-9, 0}
				return h, hab
			},
			treat: func(rng *rand.Rand, _ int, x []float64) []float64 { return amplified(rng, x) }},
	}
}

// usual is a usual harp in a usual position.
func usual(rng *rand.Rand) (harp.Harp, habits) {
	h := mustParse(usualKeys[rng.IntN(len(usualKeys))], "richter")
	return h, inPosition(rng, h)
}

// inPosition plays in second position twice in three, else in first or third.
func inPosition(rng *rand.Rand, h harp.Harp) habits {
	switch rng.IntN(6) {
	case 0:
		return plain(h, 1, append([]int{10}, majorScale...))
	case 1:
		return plain(h, 3, dorian)
	}
	return plain(h, 2, bluesScale)
}

// plain are ordinary habits in a position.
func plain(h harp.Harp, position int, scale []int) habits {
	return habits{
		scale: scale, key: harp.SongKey(h.Key(), position),
		lowest: 1, top: 9,
		notes: span{4, 10}, space: span{0.5, 1.4}, leap: 4, slur: 0.35,
		length: func(rng *rand.Rand, i, n int) float64 {
			if i == n-1 && rng.IntN(2) == 0 {
				return 0.6 + 0.9*rng.Float64()
			}
			return 0.13 + 0.5*rng.Float64()
		},
		attack: span{0.02, 0.09}, shaped: 0.35,
		double: 0.08, split: 0.05, blow: 0.4, second: span{-8, 0}, lop: 0.5,
	}
}

func mustParse(key, layout string) harp.Harp {
	l, err := harp.ParseLayout(layout)
	if err != nil {
		panic(err)
	}
	h, err := harp.Parse(key, l)
	if err != nil {
		panic(err)
	}
	return h
}

// varied are the surroundings of an ordinary clip: two of six close to the
// microphone, two in a live room, two on an old record.
func varied(rng *rand.Rand, i int, x []float64) []float64 {
	room := effect.Room{T60: 0.25 + 0.25*rng.Float64(), Direct: 8 + 6*rng.Float64(),
		PreDelay: 0.01 * rng.Float64(), Seed: rng.Uint64()}
	if i/2 == 1 {
		room.T60, room.Direct, room.PreDelay = 0.7+1.1*rng.Float64(), 1+5*rng.Float64(), 0.025*rng.Float64()
	}
	x = effect.Reverb(x, Rate, room)
	if i/2 == 2 {
		x = effect.Record(x, Rate, effect.Disc{Low: 120 + 130*rng.Float64(), High: 3200 + 2300*rng.Float64(),
			Noise: -34 + 10*rng.Float64(), Clicks: 6 * rng.Float64(), Wow: 6 * rng.Float64(), Seed: rng.Uint64()})
	}
	return x
}

// amplified is a harp through an overdriven amplifier in a room.
func amplified(rng *rand.Rand, x []float64) []float64 {
	x = effect.Overdrive(x, Rate, effect.Amp{Drive: 2 + 12*rng.Float64(), Bias: 0.35 * rng.Float64(),
		Low: 90 + 80*rng.Float64(), High: 3500 + 2500*rng.Float64()})
	return effect.Reverb(x, Rate, effect.Room{T60: 0.4 + rng.Float64(), Direct: 3 + 7*rng.Float64(),
		PreDelay: 0.02 * rng.Float64(), Seed: rng.Uint64()})
}
