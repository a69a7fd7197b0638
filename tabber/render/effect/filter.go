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

const halfTaps = 16 // of the sampling-rate filters, in samples of the lower rate

// lowpassTaps is a Hann-windowed sinc that keeps what is below 0.45 of the
// lower rate, for a change of rate by over. It is symmetric about its middle.
func lowpassTaps(over int) []float64 {
	n := halfTaps * over
	taps := make([]float64, 2*n+1)
	cut := 0.9 / float64(over)
	for i := range taps {
		t := float64(i - n)
		sinc := 1.0
		if t != 0 {
			sinc = math.Sin(math.Pi*cut*t) / (math.Pi * cut * t)
		}
		taps[i] = cut * sinc * (0.5 + 0.5*math.Cos(math.Pi*t/float64(n+1)))
	}
	return taps
}

// upsample gives over samples for each of x, without delay.
func upsample(x []float64, over int) []float64 {
	taps, n := lowpassTaps(over), halfTaps*over
	y := make([]float64, len(x)*over)
	for i := range y {
		first := max((i-n+over-1)/over, 0)
		for k := first; k*over <= i+n && k < len(x); k++ {
			y[i] += float64(over) * x[k] * taps[k*over-i+n]
		}
	}
	return y
}

// downsample undoes upsample.
func downsample(x []float64, over int) []float64 {
	taps, n := lowpassTaps(over), halfTaps*over
	y := make([]float64, len(x)/over)
	for i := range y {
		for k := max(i*over-n, 0); k <= i*over+n && k < len(x); k++ {
			y[i] += x[k] * taps[k-i*over+n]
		}
	}
	return y
}
