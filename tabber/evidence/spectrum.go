package evidence

import (
	"math"

	"blowdraw/decode/fft"
	"blowdraw/pitch"
)

// Spectrum is the mean power spectrum of a stretch of sound through Hann windows.
// Bin k is at k*Rate/Size Hz; 0 dB is a sine of full scale.
type Spectrum struct {
	Size  int
	Power []float64
}

const (
	longest  = 8192 // samples of a window (0.37 s)
	shortest = 1024 // (46 ms)
)

// NewSpectrum of samples at pitch.Rate, through the longest windows that they hold.
func NewSpectrum(samples []float64) Spectrum {
	size := longest
	for size > shortest && size > len(samples) {
		size /= 2
	}
	return spectrum(samples, size, size/4)
}

// spectrum through windows of size samples, hop apart. What is shorter than a
// window is filled up with silence.
func spectrum(samples []float64, size, hop int) Spectrum {
	s := Spectrum{Size: size, Power: make([]float64, size/2+1)}
	hann := make([]float64, size)
	for i := range hann {
		hann[i] = 2 * (1 - math.Cos(2*math.Pi*float64(i)/float64(size))) / float64(size)
	}
	n := max(0, len(samples)-size)/hop + 1
	fft.NewFrames(hann, hop).Each(samples, 0, n, func(_ int, power []float32) {
		for k, p := range power {
			s.Power[k] += float64(p) / float64(n)
		}
	})
	return s
}

// bin of a frequency, not rounded.
func (s Spectrum) bin(hz float64) float64 { return hz / pitch.Rate * float64(s.Size) }

// width is half the width of a partial in bins: a Hann window's main lobe.
const width = 2

// near is the range of bins that a partial at hz takes up: its main lobe, and 20
// cents for a pitch that moves.
func (s Spectrum) near(hz float64) (lo, hi int) {
	x := s.bin(hz)
	reach := max(width, x*(math.Exp2(20.0/1200)-1))
	return max(int(math.Floor(x-reach)), 0), min(int(math.Ceil(x+reach)), len(s.Power)-1)
}

// Level in dB of the strongest bin of a partial at hz.
func (s Spectrum) Level(hz float64) float64 {
	lo, hi := s.near(hz)
	top := 0.0
	for k := lo; k <= hi; k++ {
		top = max(top, s.Power[k])
	}
	return decibels(top)
}

func decibels(power float64) float64 { return 10 * math.Log10(power+1e-12) }
