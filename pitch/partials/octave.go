package partials

import (
	"math"
	"slices"

	"blowdraw/pitch"
)

// Signs are what the partials of a fundamental say of a second reed an octave
// above it, whose partials are the even ones.
type Signs struct {
	EvenAstray, OddAstray float64 // log10 of the share astray, mean weighted by amplitude
	EvenMiddle, OddMiddle float64 // log10 of the share astray, median
	EvenLevel             float64 // dB of partials 2, 4, 6 and 8 above the mean of their neighbours, mean
	Second                float64 // dB of partial 2 above partial 1
}

// Signs of an octave in the tone.
func (t Tone) Signs() Signs {
	var s Signs
	s.EvenAstray, s.EvenMiddle = t.astray(1)
	s.OddAstray, s.OddMiddle = t.astray(0)
	n := 0.0
	for k := 1; k < min(len(t.Level)-1, 8); k += 2 {
		s.EvenLevel += t.Level[k] - (t.Level[k-1]+t.Level[k+1])/2
		n++
	}
	s.EvenLevel /= max(n, 1)
	if len(t.Level) > 1 {
		s.Second = t.Level[1] - t.Level[0]
	}
	return s
}

// inaudible is how many dB below the strongest a partial does not count.
const inaudible = 50

// astray is how far every other partial from the first on strays.
func (t Tone) astray(first int) (mean, middle float64) {
	top := slices.Max(t.Level)
	var all []float32
	sum, weight := 0.0, 1e-12
	for k := first; k < len(t.Level); k += 2 {
		if t.Level[k] > top-inaudible {
			w := math.Pow(10, t.Level[k]/20)
			sum, weight = sum+w*math.Pow(10, t.Astray[k]), weight+w
			all = append(all, float32(t.Astray[k]))
		}
	}
	if len(all) == 0 {
		return math.Log10(floor), math.Log10(floor)
	}
	return math.Log10(sum/weight + floor), pitch.Percentile(all, 0.5)
}

// OctaveOdds are the log odds of an octave rather than a single reed, from the sound
// alone. Usual is how far the odd partials of the recording's notes stray, their
// median OddAstray: it tells a dry room from a hall. The numbers come from a logistic
// regression over rendered clips of octaves and of their lower reeds alone.
func (s Signs) OctaveOdds(usual float64) float64 {
	return -2.368 + 2.756*s.EvenAstray - 0.828*s.OddAstray + 2.790*s.EvenMiddle - 2.164*s.OddMiddle +
		0.361*s.EvenLevel + 0.046*s.Second - 1.494*usual
}
