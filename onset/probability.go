package onset

import (
	"math"
	"slices"
)

// Probability turns strengths into the probability that a note begins at each
// frame. A frame that is not the largest within 3 frames gets 0.02; a peak is
// judged by its height over the local mean (Böck & Widmer 2013, section 3.3)
// against the section's usual peaks.
func Probability(strength []float32) []float32 {
	out := make([]float32, len(strength))
	var peaks []float64
	rise := func(i int) float64 {
		return float64(strength[i]) - mean(strength[max(0, i-9):min(len(strength), i+9)])
	}
	for i := range strength {
		if isPeak(strength, i, 3) {
			peaks = append(peaks, rise(i))
		}
	}
	slices.Sort(peaks)
	usual := 1e-9
	if len(peaks) > 0 {
		usual = max(usual, peaks[len(peaks)*9/10])
	}
	for i := range strength {
		out[i] = 0.02
		if isPeak(strength, i, 3) {
			out[i] = float32(1 / (1 + math.Exp(-8*(rise(i)/usual-0.35))))
		}
	}
	return out
}

func isPeak(x []float32, i, reach int) bool {
	for j := max(0, i-reach); j <= min(len(x)-1, i+reach); j++ {
		if x[j] > x[i] {
			return false
		}
	}
	return true
}

func mean(x []float32) float64 {
	sum := 0.0
	for _, v := range x {
		sum += float64(v)
	}
	return sum / float64(max(1, len(x)))
}
