package harp

import (
	"math"
)

// Temperament says how a maker tunes the reeds between equal temperament (Just
// 0) and just intonation (Just 1).
type Temperament struct {
	Name string
	Just float64 // share of just intonation, 0 to 1
}

// Temperaments returns equal, just, and compromise, which lies halfway.
func Temperaments() []Temperament {
	return []Temperament{{"equal", 0}, {"just", 1}, {"compromise", 0.5}}
}

// Frequency ratios of the two chords of the harp, by semitones above the chord's
// root. That harps are tuned so, the draw reeds as one harmonic series 4:5:6:7:9
// on draw 2, is common practice, no source. The ratios are the usual ones of
// just intonation (Helmholtz, On the Sensations of Tone, tr. Ellis, Appendix XX,
// table of intervals; named from memory).
var (
	blowChord = map[int]float64{0: 1, 3: 6. / 5, 4: 5. / 4, 7: 3. / 2}
	drawChord = map[int]float64{0: 1, 2: 9. / 8, 3: 6. / 5, 4: 5. / 4, 7: 3. / 2, 10: 7. / 4, 11: 15. / 8}
)

// Cents is how far the maker tunes the reed of an action from equal temperament
// on the harp's key, in cents; positive is sharp. In just intonation the blow
// reeds are 1 : 5/4 : 3/2 on the key; the draw reeds stand 5/4, 3/2, 7/4 and 9/8
// (draw 3, 4, 5 and 6 of the common layout) above draw 2, which is 3/2 above
// the key. Reeds outside these chords, on other layouts, are left equal, and so
// are bends and overbends, which the player tunes. The deviations do not average
// zero over the harp; a caller who wants that subtracts the mean.
func (t Temperament) Cents(h Harp, a Action) float64 {
	if a.Bend != 0 {
		return 0
	}
	chord, root, rootRatio := blowChord, 0, 1.0
	if a.Breath == Draw {
		chord, root, rootRatio = drawChord, 7, 3./2
	}
	ratio, ok := chord[PitchClass(h.Offset(a)-root)]
	if !ok {
		return 0
	}
	equal := float64(PitchClass(h.Offset(a)-root) + root)
	return t.Just * 100 * (12*math.Log2(ratio*rootRatio) - equal)
}
