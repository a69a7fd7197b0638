package score

import "math"

// Verdict is a stated probability, and whether what it was of is right.
type Verdict struct {
	Said  float64
	Right bool
}

// CalibrationError is the expected calibration error over ten bins of equal width (Guo
// et al. 2017, "On calibration of modern neural networks"): how far what is said is from
// what is right, bin by bin, on average over the verdicts. 0 for none.
func CalibrationError(verdicts []Verdict) float64 {
	var off [10]float64
	for _, v := range verdicts {
		k := min(int(10*v.Said), 9)
		off[k] += v.Said
		if v.Right {
			off[k]--
		}
	}
	sum := 0.0
	for _, x := range off {
		sum += math.Abs(x)
	}
	return sum / max(1, float64(len(verdicts)))
}
