package form

import (
	"math"
	"slices"
)

// What is struck is told apart by where in the spectrum it begins, and the player's
// notes by when they were found to start.
const (
	kickBand = iota
	bassBand
	bodyBand
	snareBand
	playerBand
	strands
)

const (
	loudest     = 0.95 // quantile of the levels that counts as loud
	deep        = 30.0 // dB below that: what is softer is silence
	usualAttack = 0.9  // quantile of the attacks that counts as strong
	leastAttack = 3.0  // dB
	attackLag   = 2    // frames of DrumHop between which levels rise
	levelBits   = 3    // that they take
	unheard     = Levels
	playerReach = 0.035
)

// Levels are how many levels of attacks are told apart, the softest standing for none.
const Levels = 6

// steps between the levels of attacks, against a strong one.
var steps = [Levels - 1]float64{0.1, 0.25, 0.45, 0.7, 1.0}

// attacks is how strongly something begins in each band around each frame of
// DrumHop: 0 to Levels-1, the player's 0 or 1; unheard in pauses.
type attacks [strands][]uint8

// attacks of the section, and the frames in pauses.
func (s Sound) attacks(notes []Note) (attacks, []bool) {
	var out attacks
	for b, level := range [][]float32{s.Kick, s.Bass, s.Body, s.Snare} {
		out[b] = quantized(attackStrength(level))
	}
	out[playerBand] = make([]uint8, len(s.Kick))
	for _, n := range notes {
		from := int(math.Ceil((n.Start - playerReach - s.Start) / s.DrumHop))
		to := int(math.Floor((n.Start + playerReach - s.Start) / s.DrumHop))
		for i := max(0, from); i <= to && i < len(s.Kick); i++ {
			out[playerBand][i] = 1
		}
	}
	pauses := out.pauses()
	for i, pause := range pauses {
		for strand := range out {
			if pause {
				out[strand][i] = unheard
			}
		}
	}
	return out, pauses
}

// attackStrength is the rise of a level in dB at each frame, silence apart.
func attackStrength(level []float32) []float64 {
	sorted := slices.Sorted(slices.Values(level))
	out := make([]float64, len(level))
	if len(level) == 0 {
		return out
	}
	floor := quantile(sorted, loudest) - deep
	at := func(i int) float64 { return float64(max(floor, level[min(max(i, 0), len(level)-1)])) }
	for i := range out {
		out[i] = max(0, at(i+1)-at(i+1-attackLag))
	}
	return out
}

// quantile of values in ascending order, q in 0 to 1.
func quantile[T float32 | float64](sorted []T, q float64) T {
	return sorted[int(q*float64(len(sorted)-1))]
}

// quantized is the level of the strongest attack within a frame of each.
func quantized(strength []float64) []uint8 {
	var peaks []float64
	for i := 1; i+1 < len(strength); i++ {
		if v := strength[i]; v > 0 && v >= strength[i-1] && v > strength[i+1] {
			peaks = append(peaks, v)
		}
	}
	usual := leastAttack
	if len(peaks) > 0 {
		slices.Sort(peaks)
		usual = max(usual, quantile(peaks, usualAttack))
	}
	out := make([]uint8, len(strength))
	for i := range out {
		v := 0.0
		for k := max(0, i-1); k <= min(i+1, len(strength)-1); k++ {
			v = max(v, strength[k])
		}
		for _, step := range steps {
			if v > step*usual {
				out[i]++
			}
		}
	}
	return out
}

// pauseFrames is how long nothing begins before and after a frame of a pause, in
// which the beat goes on unheard.
const pauseFrames = 32

// pauses are the frames around which nothing begins.
func (a attacks) pauses() []bool {
	n := len(a[0])
	out := make([]bool, n)
	last := -pauseFrames
	for i := range n {
		for _, strand := range a {
			if strand[i] > 0 {
				last = i
			}
		}
		out[i] = i-last >= pauseFrames
	}
	last = n + pauseFrames
	for i := n - 1; i >= 0; i-- {
		for _, strand := range a {
			if strand[i] > 0 {
				last = i
			}
		}
		out[i] = out[i] || last-i >= pauseFrames
	}
	return out
}
