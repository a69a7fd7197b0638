package bars

import (
	"fmt"
	"math"
	"path/filepath"

	"blowdraw/decode/programs/fluidsynth"
)

// The takes in which grooves are counted, and those that weights are fitted to.
var (
	grooveTakes = []Takes{
		{inFour, 1, 135, fluidsynth.FluidBank, false}, {inFour, 2, 135, fluidsynth.SmallBank, true},
		{inFour, 5, 180, fluidsynth.FluidBank, true}, {inFour, 6, 180, fluidsynth.SmallBank, false},
	}
	weightTakes = []Takes{
		{inFour, 7, 135, fluidsynth.FluidBank, false}, {inFour, 8, 135, fluidsynth.SmallBank, true},
		{inFour, 11, 180, fluidsynth.SmallBank, true}, {inFour, 12, 180, fluidsynth.FluidBank, true},
	}
)

// String tells how the takes are made.
func (set Takes) String() string {
	room := "dry"
	if set.Room {
		room = "in a room"
	}
	return fmt.Sprintf("%d takes of seed %d in %d grooves, %s, %s",
		set.N, set.Seed, len(set.Grooves), filepath.Base(set.Bank), room)
}

// GrooveTakes describe the takes that [FitGrooves] counts in.
func GrooveTakes() []string { return described(grooveTakes) }

// WeightTakes describe the takes that [FitPlaces] and [FitSureness] fit to.
func WeightTakes() []string { return described(weightTakes) }

// described are sets of takes as files of fitted numbers have them.
func described(sets []Takes) (out []string) {
	for _, s := range sets {
		out = append(out, s.String())
	}
	return out
}

// rendered are the takes of some sets.
func rendered(sets []Takes, progress func(string)) (out []take, err error) {
	for _, s := range sets {
		progress("rendering " + s.String())
		takes, err := s.render()
		if err != nil {
			return nil, err
		}
		out = append(out, takes...)
	}
	return out, nil
}

// rounded to so many decimals.
func rounded(v float64, decimals int) float64 {
	unit := math.Pow10(decimals)
	return math.Round(v*unit) / unit
}
