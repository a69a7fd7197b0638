package evidence

import (
	"math"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/pitch/partials"
)

// Sound is a stretch of one fundamental: a single reed, or an octave on it.
type Sound struct {
	Start, End float64 // seconds
	Hz         float64 // of the fundamental
	Octave     float64 // probability that a second reed sounds an octave above
	Tone       partials.Tone
}

const (
	lowestHz, highestHz = 80, 3100 // fundamentals of low and high harps
	sameCents           = 70       // a sound's frames lie within this of the frame before
	gapFrames           = 2        // that may lack a fundamental
	leastProbability    = 0.3      // of a frame's fundamental
	quietDB             = 30       // below the loud frames of the clip, where nothing is heard
	leastSeconds        = 0.12
)

// Sounds finds the stretches of a clip, mono at pitch.Rate, that have one fundamental
// (probabilistic YIN), and tells from the sound alone whether each is an octave. It
// returns how far odd partials stray in the clip as well.
func Sounds(c decode.Clip) (all []Sound, usual float64) {
	var odd []float32
	for _, s := range stretches(c) {
		tone, ok := partials.Measure(cut(c, s.Start+speaking, s.End), s.Hz)
		if !ok {
			continue
		}
		s.Tone = tone
		all, odd = append(all, s), append(odd, float32(tone.Signs().OddAstray))
	}
	usual = pitch.Percentile(odd, 0.5)
	for i := range all {
		all[i].Octave = 1 / (1 + math.Exp(-all[i].Tone.Signs().OctaveOdds(usual)))
	}
	return all, usual
}

// stretches of a clip with one fundamental.
func stretches(c decode.Clip) []Sound {
	hz := fundamentals(c)
	var out []Sound
	var current []float64
	gap := 0
	end := func(i int) {
		first := float64(i-gap-len(current)) * pitch.HopSeconds
		if length := float64(len(current)) * pitch.HopSeconds; length >= leastSeconds {
			out = append(out, Sound{Start: c.Start + first, End: c.Start + first + length, Hz: median(current)})
		}
		current, gap = nil, 0
	}
	for i, f := range hz {
		switch n := len(current); {
		case n > 0 && f > 0 && math.Abs(1200*math.Log2(f/current[n-1])) < sameCents:
			for ; gap > 0; gap-- {
				current = append(current, f)
			}
			current = append(current, f)
		case n > 0 && f == 0 && gap < gapFrames:
			gap++
		default:
			if n > 0 {
				end(i)
			}
			if f > 0 {
				current = []float64{f}
			}
		}
	}
	if len(current) > 0 {
		end(len(hz))
	}
	return out
}

// fundamentals in Hz of each frame of a clip, 0 where there is none.
func fundamentals(c decode.Clip) []float64 {
	y := pitch.NewYin(lowestHz, highestHz)
	out := make([]float64, len(c.Samples)/pitch.Hop)
	level := make([]float32, len(out))
	for i := range out {
		at := c.Start + float64(i)*pitch.HopSeconds
		sum := 0.0
		x := cut(c, at-0.02, at+0.02)
		for _, v := range x {
			sum += v * v
		}
		level[i] = float32(decibels(sum / float64(max(len(x), 1))))
	}
	floor := pitch.Percentile(level, 0.95) - quietDB
	for i := range out {
		best := pitch.Candidate{Probability: leastProbability}
		if float64(level[i]) < floor {
			continue
		}
		for _, k := range y.At(c.Samples, i*pitch.Hop) {
			if k.Probability > best.Probability {
				best = k
			}
		}
		out[i] = best.Hz
	}
	return out
}

func median(x []float64) float64 {
	ones := make([]float64, len(x))
	for i := range ones {
		ones[i] = 1
	}
	return pitch.WeightedMedian(x, ones)
}
