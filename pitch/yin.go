package pitch

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Candidate is a fundamental frequency in Hz with its probability.
type Candidate struct{ Hz, Probability float64 }

// Yin estimates fundamental frequencies frame by frame with the probabilistic
// YIN of Mauch & Dixon (2014), "pYIN: a fundamental frequency estimator using
// probabilistic threshold distributions", which puts a distribution over the
// threshold of de Cheveigné & Kawahara (2002), "YIN, a fundamental frequency
// estimator for speech and music".
type Yin struct {
	window     int // samples compared
	low, high  int // shortest and longest period in steps of 1/yinFine sample
	reach      int // longest lag in samples
	fft, fine  *fourier.FFT
	a, b       []float64
	ca, cb     []complex128
	r          []float64 // correlation in steps
	cr         []complex128
	diff       []float64 // in steps
	prior      [yinThresholds]float64
	candidates []Candidate
}

const (
	yinWindow     = 1024
	yinThresholds = 100
	yinFine       = 4    // steps a sample: high notes have few samples a period
	yinNoDip      = 0.01 // weight of the deepest dip when none passes the threshold
)

// NewYin prepares for fundamentals between lowHz and highHz at Rate.
func NewYin(lowHz, highHz float64) *Yin {
	y := &Yin{
		window: yinWindow,
		low:    max(2, int(yinFine*Rate/highHz)),
		high:   int(math.Ceil(yinFine*Rate/lowHz)) + 1,
	}
	y.reach = y.high/yinFine + 2
	size := 1
	for size < y.window+y.reach+1 {
		size *= 2
	}
	y.fft, y.fine = fourier.NewFFT(size), fourier.NewFFT(yinFine*size)
	y.a, y.b = make([]float64, size), make([]float64, size)
	y.ca, y.cb = make([]complex128, size/2+1), make([]complex128, size/2+1)
	y.r, y.cr = make([]float64, yinFine*size), make([]complex128, yinFine*size/2+1)
	y.diff = make([]float64, y.high+2)
	y.prior = betaPrior(2, 18)
	return y
}

// betaPrior is the Beta(a, b) distribution over thresholds 0.01, 0.02, … 1.
func betaPrior(a, b float64) [yinThresholds]float64 {
	var p [yinThresholds]float64
	sum := 0.0
	for i := range p {
		x := (float64(i) + 0.5) / yinThresholds
		p[i] = math.Pow(x, a-1) * math.Pow(1-x, b-1)
		sum += p[i]
	}
	for i := range p {
		p[i] /= sum
	}
	return p
}

// At returns the candidates around sample centre of x, zeros outside x. The
// slice is valid until the next call.
func (y *Yin) At(x []float64, centre int) []Candidate {
	first := centre - (y.window+y.reach)/2
	clear(y.a)
	clear(y.b)
	for i := range y.window + y.reach + 1 {
		if j := first + i; j >= 0 && j < len(x) {
			y.b[i] = x[j]
		}
	}
	b := y.b[:y.window+y.reach+1]
	mean := 0.0
	for _, v := range b {
		mean += v / float64(len(b))
	}
	for i := range b { // no difference changes, but a steady offset would drown them in rounding
		b[i] -= mean
	}
	copy(y.a, y.b[:y.window])
	y.difference()
	y.normalise()
	return y.dips()
}

// difference fills diff with the sum over the window of (x[j]-x[j+tau])^2 (de
// Cheveigné & Kawahara 2002, equation 6) by way of the correlation. Between
// samples the correlation is interpolated by padding its spectrum with zeros,
// the energy of the moved window linearly.
func (y *Yin) difference() {
	y.fft.Coefficients(y.ca, y.a)
	y.fft.Coefficients(y.cb, y.b)
	clear(y.cr)
	for i := range y.ca {
		y.cr[i] = complex(real(y.ca[i]), -imag(y.ca[i])) * y.cb[i]
	}
	y.cr[len(y.ca)-1] /= 2 // half of the highest bin lies at the negative frequency
	y.fine.Sequence(y.r, y.cr)
	scale := 1 / float64(y.fft.Len())
	still := 0.0
	for _, v := range y.a[:y.window] {
		still += v * v
	}
	moved := still
	for lag := 0; lag*yinFine < len(y.diff); lag++ {
		in, out := y.b[lag+y.window], y.b[lag]
		next := moved + in*in - out*out
		for k := lag * yinFine; k < min((lag+1)*yinFine, len(y.diff)); k++ {
			e := moved + (next-moved)*float64(k-lag*yinFine)/yinFine
			y.diff[k] = max(0, still+e-2*y.r[k]*scale)
		}
		moved = next
	}
}

// normalise divides by the cumulative mean (equation 8).
func (y *Yin) normalise() {
	sum := 0.0
	y.diff[0] = 1
	for tau := 1; tau < len(y.diff); tau++ {
		sum += y.diff[tau]
		if sum > 1e-9 {
			y.diff[tau] *= float64(tau) / sum
		} else {
			y.diff[tau] = 1
		}
	}
}

// dips gives each local minimum the probability of the thresholds for which it
// is the first one below (Mauch & Dixon 2014, equation 4).
func (y *Yin) dips() []Candidate {
	y.candidates = y.candidates[:0]
	deepest, at := math.Inf(1), 0
	for tau := y.low; tau <= y.high; tau++ {
		if y.diff[tau] < deepest {
			deepest, at = y.diff[tau], tau
		}
	}
	ceiling := 1.0 // thresholds from here up are taken by an earlier dip
	for tau := y.low + 1; tau < y.high; tau++ {
		d := y.diff[tau]
		if d >= y.diff[tau-1] || d > y.diff[tau+1] || d >= ceiling {
			continue
		}
		p := y.mass(d, ceiling)
		ceiling = d
		y.candidates = append(y.candidates, Candidate{y.hz(tau), p})
	}
	if at > y.low && at < y.high {
		rest := y.mass(0, min(ceiling, 1)) * yinNoDip
		y.candidates = append(y.candidates, Candidate{y.hz(at), rest})
	}
	return y.candidates
}

// mass of the prior for thresholds in (lo, hi].
func (y *Yin) mass(lo, hi float64) float64 {
	sum := 0.0
	for i, p := range y.prior {
		if t := (float64(i) + 1) / yinThresholds; t > lo && t <= hi {
			sum += p
		}
	}
	return sum
}

// hz refines a period in steps with a parabola (step 5) and turns it into Hz.
func (y *Yin) hz(tau int) float64 {
	a, b, c := y.diff[tau-1], y.diff[tau], y.diff[tau+1]
	t := float64(tau)
	if d := a - 2*b + c; d > 0 {
		t += 0.5 * (a - c) / d
	}
	return yinFine * Rate / t
}
