package form

import (
	"math"
	"slices"
)

const (
	basses    = 24  // semitones from Lowest on that count as bass
	partials  = 6   // of a note of the player that hide the band
	hideEarly = 0.2 // s: half a frame's window
	hideLate  = 0.3 // s: the same, with the room
)

// tones are how strong the twelve pitch classes are, above and in the bass.
type tones struct{ treble, bass [12]float64 }

// hidden are the semitones of a frame that the player's notes hide, one bit each.
type hidden uint64

// band are the semitones of every frame that the player's notes hide, and the bass's
// share in what is left.
func (s Sound) band(notes []Note) (frames []hidden, bassShare float64) {
	frames = make([]hidden, len(s.Notes))
	for _, n := range notes {
		from, to := s.frames(n.Start-hideEarly, n.End+hideLate)
		for h := 1.0; h <= partials; h++ {
			k := int(math.Round(n.Pitch+12*math.Log2(h))) - Lowest
			for i := from; i < to && k >= 0 && k < Semitones; i++ {
				frames[i] |= 1 << k
			}
		}
	}
	low, all := 0.0, 1e-9
	for i := range s.Notes {
		for k, v := range s.Notes[i] {
			if frames[i]>>k&1 == 1 {
				continue
			}
			if k < basses {
				low += v.Value()
			}
			all += v.Value()
		}
	}
	return frames, low / all
}

// tones of a frame, but for what is hidden.
func (s Sound) tones(frame int, but hidden) tones {
	var out tones
	for k, v := range s.Notes[frame] {
		class := (Lowest + k) % 12
		switch {
		case but>>k&1 == 1:
		case k < basses:
			out.bass[class] += v.Value()
		default:
			out.treble[class] += v.Value()
		}
	}
	return out
}

// frames are the indices of the frames in [from, to) seconds.
func (s Sound) frames(from, to float64) (int, int) {
	i := int(math.Ceil((from - s.Start) / s.Hop))
	j := int(math.Ceil((to - s.Start) / s.Hop))
	i = min(max(i, 0), len(s.Notes))
	return i, min(max(j, i), len(s.Notes))
}

// heard is a beat: the shares of its tones, how hard bass drum and snare strike
// it against the section's usual, in standard deviations, what its rhythm says for
// each place in the bar if grooves are followed, and how many beats (2 at most) a
// note of the player lasts that starts with it.
type heard struct {
	tones
	kick, snare, long float64
	rhythm            []float64
}

// hear sums up each beat.
func (s Sound) hear(frames []hidden, beats []float64, notes []Note) []heard {
	out := make([]heard, len(beats))
	for i, t := range beats {
		j := min(i, len(beats)-2)
		length := beats[j+1] - beats[j]
		from, to := s.frames(t+0.25*length, t+0.8*length)
		for frame := from; frame < to; frame++ {
			f := s.tones(frame, frames[frame])
			for k := range f.treble {
				out[i].treble[k] += f.treble[k]
				out[i].bass[k] += f.bass[k]
			}
		}
		out[i].kick, out[i].snare = s.rise(s.Kick, t, decibels), s.rise(s.Snare, t, decibels)
		for len(notes) > 0 && notes[0].Start < t-0.15*length {
			notes = notes[1:]
		}
		for _, n := range notes {
			if n.Start > t+0.15*length {
				break
			}
			out[i].long = max(out[i].long, min((n.End-n.Start)/length, 2))
		}
	}
	shares(out, func(h *heard) *[12]float64 { return &h.treble })
	shares(out, func(h *heard) *[12]float64 { return &h.bass })
	standardize(out, func(h *heard) *float64 { return &h.kick })
	standardize(out, func(h *heard) *float64 { return &h.snare })
	return out
}

// softest is the strength of a beat's tones, against the usual beat's, below which
// it counts in proportion: what is left in a pause is no chord.
const softest = 0.5

// shares makes the tones of each beat sum to 1, or less where they are soft.
func shares(x []heard, of func(*heard) *[12]float64) {
	sums := make([]float64, len(x))
	for i := range x {
		sums[i] = sum(of(&x[i])[:])
	}
	sorted := slices.Sorted(slices.Values(sums))
	least := max(softest*sorted[len(sorted)/2], 1e-9)
	for i := range x {
		tones := of(&x[i])
		for k := range tones {
			tones[k] /= max(sums[i], least)
		}
	}
}

const (
	leastDeviation = 2.0 // dB: what varies less says nothing
	mostDeviations = 2.0
)

// standardize takes the mean off and divides by the standard deviation.
func standardize(x []heard, of func(*heard) *float64) {
	n := float64(len(x))
	mean, variance := 0.0, 0.0
	for i := range x {
		mean += *of(&x[i]) / n
	}
	for i := range x {
		d := *of(&x[i]) - mean
		variance += d * d / n
	}
	deviation := max(math.Sqrt(variance), leastDeviation)
	for i := range x {
		z := (*of(&x[i]) - mean) / deviation
		*of(&x[i]) = max(-mostDeviations, min(z, mostDeviations))
	}
}

// strikes is the mean rise of a level at the beats, in amplitude.
func (s Sound) strikes(level []float32, beats []float64) float64 {
	sum := 0.0
	for _, t := range beats {
		sum += s.rise(level, t, amplitude)
	}
	return sum / float64(len(beats))
}

func decibels(level float32) float64  { return float64(level) }
func amplitude(level float32) float64 { return math.Pow(10, float64(level)/20) }

// rise is how much a level rises at a time, from the 90 ms before to the 70 ms
// after.
func (s Sound) rise(level []float32, t float64, unit func(float32) float64) float64 {
	at := func(t float64) int {
		return min(max(0, int(math.Round((t-s.Start)/s.DrumHop))), len(level))
	}
	before, after := level[at(t-0.12):at(t-0.02)], level[at(t-0.03):at(t+0.08)]
	if len(before) == 0 || len(after) == 0 {
		return 0
	}
	low, high := before[0], after[0]
	for _, v := range before {
		low = min(low, v)
	}
	for _, v := range after {
		high = max(high, v)
	}
	return max(0, unit(high)-unit(low))
}
