package beat

import (
	"cmp"
	"slices"

	"blowdraw/onset"
)

const (
	leastPeak  = 0.1   // probability below which a peak of the strength says nothing of the beat
	peakWeight = 0.25  // of a sure peak of usual strength, against a note
	strongest  = 2.0   // against the usual strength, more counts no more
	peakEarly  = 0.018 // s by which a peak of the strength lies before what begins
)

// begin is a moment at which something begins: seconds, and how much it counts
// (1 for a note).
type begin struct{ time, weight float64 }

// begins are the notes and the peaks of the strength between from and to, by
// time; stronger peaks count more. n is how many they are, sure peaks and notes
// counting one each.
func (s Strength) begins(notes []float64, from, to float64) (out []begin, n float64) {
	probability := onset.Probability(s.Values)
	usual := usualPeak(s.Values, probability)
	for i, p := range probability {
		t := s.Start + float64(i)*s.Hop + peakEarly
		if p > leastPeak && t >= from && t < to {
			accent := min(float64(s.Values[i])/usual, strongest)
			out = append(out, begin{t, peakWeight * float64(p) * accent})
			n += float64(p)
		}
	}
	for _, t := range notes {
		if t >= from && t < to {
			out = append(out, begin{t, 1})
			n++
		}
	}
	slices.SortStableFunc(out, func(a, b begin) int { return cmp.Compare(a.time, b.time) })
	return out, n
}

// usualPeak is the median strength of likely peaks.
func usualPeak(strength []float32, probability []float32) float64 {
	var peaks []float64
	for i, p := range probability {
		if p > 0.5 {
			peaks = append(peaks, float64(strength[i]))
		}
	}
	if len(peaks) == 0 {
		return 1
	}
	return median(peaks)
}
