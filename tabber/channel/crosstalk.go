package channel

import (
	"math"

	"blowdraw/decode/fft"
	"blowdraw/pitch"

	"gonum.org/v1/gonum/dsp/fourier"
)

// What one channel tells of the other. If a band sounds g times as loud in one
// channel as in the other, one less g times the other leaves what is not the band.
// g minimises, over the bins of short spectra, the sum of the logarithms of what is
// left: unlike least squares this follows the bins in which nothing but the band
// sounds, however loud the harp is in others. (Iteratively reweighted least
// squares, Holland & Welsch 1977, "Robust regression using iteratively reweighted
// least-squares", Communications in Statistics A 6; that one sound has most bins
// for itself: Yilmaz & Rickard 2004, "Blind separation of speech mixtures via
// time-frequency masking", IEEE Trans. Signal Processing 52. Both from memory.)
const (
	crossWindow = 1024 // samples at pitch.Rate, 46 ms
	crossLow    = 100  // Hz
	crossHigh   = 6000 // Hz
	crossRounds = 10
	crossFloor  = 1e-4 // of a bin's mean power, below which what is left counts as nothing
	crossSilent = 1e-7 // of the mean power of all bins, the same
)

// bins are the spectra of two channels between crossLow and crossHigh, frame by
// frame.
type bins struct {
	fft   *fourier.FFT
	taper []float64
	a, b  []complex64
}

const (
	crossFirst = crossLow * crossWindow / pitch.Rate
	crossWidth = crossHigh*crossWindow/pitch.Rate - crossFirst // bins of one frame
)

func newBins() bins {
	return bins{fft: fourier.NewFFT(crossWindow), taper: fft.Hann(crossWindow)}
}

// add takes a stretch of both channels at pitch.Rate.
func (x *bins) add(left, right []float64) {
	tapered, z := make([]float64, crossWindow), make([]complex128, crossWindow/2+1)
	spectrum := func(dst []complex64, samples []float64) []complex64 {
		for i, v := range samples {
			tapered[i] = v * x.taper[i]
		}
		for _, v := range x.fft.Coefficients(z, tapered)[crossFirst : crossFirst+crossWidth] {
			dst = append(dst, complex64(v))
		}
		return dst
	}
	for at := 0; at+crossWindow <= min(len(left), len(right)); at += crossWindow / 2 {
		x.a = spectrum(x.a, left[at:at+crossWindow])
		x.b = spectrum(x.b, right[at:at+crossWindow])
	}
}

// swapped are the bins the other way round.
func (x bins) swapped() bins { return bins{x.fft, x.taper, x.b, x.a} }

// gain is how loud what both channels have is in the first against the second; 0
// if there is nothing.
func (x bins) gain() float64 {
	floor := make([]float64, crossWidth)
	total := 0.0
	for i, v := range x.a {
		floor[i%crossWidth] += power(v)
		total += power(v)
	}
	n := float64(len(x.a)) / crossWidth
	for k := range floor {
		floor[k] = (crossFloor*floor[k] + crossSilent*total/crossWidth) / n
	}
	g := 0.0
	for round := range crossRounds {
		var shared, other float64
		for i, v := range x.a {
			w, weight := x.b[i], 1.0
			if round > 0 {
				re, im := float64(real(v))-g*float64(real(w)), float64(imag(v))-g*float64(imag(w))
				weight = 1 / (re*re + im*im + floor[i%crossWidth])
			}
			shared += weight * (float64(real(v))*float64(real(w)) + float64(imag(v))*float64(imag(w)))
			other += weight * power(w)
		}
		if !(other > 0) || math.IsInf(other, 0) {
			return 0
		}
		g = shared / other
	}
	return g
}

func power(z complex64) float64 {
	re, im := float64(real(z)), float64(imag(z))
	return re*re + im*im
}
