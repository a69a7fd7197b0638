package beat

import (
	"math"
	"slices"
)

// How late taps may be: hands anticipate a beat by some hundredths of a second (Repp 2005,
// "Sensorimotor synchronization: a review of the tapping literature", Psychonomic Bulletin &
// Review 12, from memory), keys and loudspeakers delay it by more.
const (
	mostEarly = 0.10 // s
	mostLate  = 0.30 // s
	mostBeat  = 0.3  // of a beat, beyond which it is another part of it
	tapStep   = 0.005
	tapWidth  = 0.025 // s, of the agreement of a tap with a begin
	clearly   = 1.15  // times as much agreement as without a delay that a delay must have,
	usually   = 2.0   // and as with the median one
	leastTaps = 8     // fewer may agree by chance
)

// TapDelay is by how many seconds beats that were tapped are late: the delay with which most of
// them lie on begins, of notes in seconds or in the strength; 0 if none is clearly better.
func TapDelay(beats []float64, s Strength, notes []float64) float64 {
	if len(beats) < leastTaps {
		return 0
	}
	begins, _ := s.begins(notes, beats[0]-mostLate, beats[len(beats)-1]+mostLate)
	most := mostBeat * 60 / steady(beats)
	best, at := 0.0, 0.0
	var all []float64
	for k := math.Ceil(-min(mostEarly, most) / tapStep); k*tapStep <= min(mostLate, most); k++ {
		a := agreement(beats, begins, k*tapStep)
		if all = append(all, a); a > best {
			best, at = a, k*tapStep
		}
	}
	if best < clearly*agreement(beats, begins, 0) || best < usually*median(all) {
		return 0
	}
	return at
}

// agreement of beats that are late by a delay with begins: their weight, by how near they are.
func agreement(beats []float64, begins []begin, delay float64) float64 {
	sum := 0.0
	for _, t := range beats {
		t -= delay
		i, _ := slices.BinarySearchFunc(begins, t-4*tapWidth, func(b begin, at float64) int {
			switch {
			case b.time < at:
				return -1
			case b.time > at:
				return 1
			}
			return 0
		})
		near := 0.0
		for ; i < len(begins) && begins[i].time < t+4*tapWidth; i++ {
			d := (begins[i].time - t) / tapWidth
			near = max(near, begins[i].weight*math.Exp(-d*d/2))
		}
		sum += near
	}
	return sum
}

// Earlier are beats moved by a delay in seconds, none before the recording; all as they were if
// fewer than two are left.
func Earlier(beats []float64, delay float64) []float64 {
	var out []float64
	for _, t := range beats {
		if t >= delay {
			out = append(out, t-delay)
		}
	}
	if len(out) < 2 {
		return beats
	}
	return out
}
