package effect

import "math"

// lowpass and highpass are second-order Butterworth filters by the bilinear
// transform (R. Bristow-Johnson, "Cookbook formulae for audio equalizer
// biquad filter coefficients", W3C Note 2021, with Q = 1/√2).
func lowpass(x []float64, rate int, hz float64) []float64 {
	if hz >= 0.49*float64(rate) {
		return append([]float64(nil), x...)
	}
	w := 2 * math.Pi * hz / float64(rate)
	k := (1 - math.Cos(w)) / 2
	return biquad(x, w, k, 2*k, k)
}

func highpass(x []float64, rate int, hz float64) []float64 {
	w := 2 * math.Pi * hz / float64(rate)
	k := (1 + math.Cos(w)) / 2
	return biquad(x, w, k, -2*k, k)
}

func biquad(x []float64, w, b0, b1, b2 float64) []float64 {
	alpha := math.Sin(w) / math.Sqrt2
	a0, a1, a2 := 1+alpha, -2*math.Cos(w), 1-alpha
	y := make([]float64, len(x))
	var x1, x2, y1, y2 float64
	for i, v := range x {
		y[i] = (b0*v + b1*x1 + b2*x2 - a1*y1 - a2*y2) / a0
		x2, x1 = x1, v
		y2, y1 = y1, y[i]
	}
	return y
}
