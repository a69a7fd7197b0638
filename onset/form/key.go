package form

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// KeyEvidence is, for each pitch class, how much likelier a section's bars are in one of the
// forms if the song is in that key than with chords chosen freely: log odds, never less than that
// of the share of songs in none. ok is false without bars or band.
func KeyEvidence(s Sound, bars Bars, notes []Note, forms []Form) (odds [12]float64, ok bool) {
	for key := range odds {
		halves, ok := s.halves(bars, notes, key)
		if !ok {
			return odds, false
		}
		var fits []float64
		for _, f := range forms {
			for at := 1; at <= f.Bars(); at++ {
				_, fit := f.fit(halves, at)
				fits = append(fits, fit+math.Log(f.share()/float64(f.Bars())))
			}
		}
		over := floats.LogSumExp(fits) - free(halves)
		odds[key] = floats.LogSumExp([]float64{math.Log(shareFree), math.Log(1-shareFree) + over})
	}
	return odds, true
}
