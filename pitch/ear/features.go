package ear

import (
	"math"

	"blowdraw/pitch"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Shape of the network's input: channels are two windows times eight
// harmonics, bins are three to a semitone row.
const (
	binsPerRow = 3
	inBins     = pitch.Rows * binsPerRow
	inChannels = 16
)

var (
	windowSizes = [2]int{4096, 1024}
	harmonics   = [8]float64{0.5, 1, 2, 3, 4, 5, 6, 7}
)

// spectrumBand is the stretch of a spectrum that one input bin integrates, as
// positions on the cumulative power (bin k covers [k, k+1) there).
type spectrumBand struct {
	lo, hi         int
	loFrac, hiFrac float64
	silent         bool // reaches above half the rate
}

// analyzer computes the network's input for one axis: for each window, each
// harmonic h and each bin the power within 1/72 octave (at least half an FFT
// bin) of h times the bin's frequency, on a logarithmic scale.
type analyzer struct {
	windows [2][]float64
	scale   [2]float64
	fft     [2]*fourier.FFT
	bands   [inChannels][inBins]spectrumBand
	buf     []float64
	coef    []complex128
	cum     [2][]float64
	power   []float64 // of the long window
}

func newAnalyzer(axis pitch.Axis) *analyzer {
	a := &analyzer{}
	for w, size := range windowSizes {
		a.windows[w] = hann(size)
		sum := 0.0
		for _, v := range a.windows[w] {
			sum += v
		}
		a.scale[w] = 4 / (sum * sum)
		a.fft[w] = fourier.NewFFT(size)
		a.cum[w] = make([]float64, size/2+2)
		for i, h := range harmonics {
			for b := range inBins {
				row := float64(b/binsPerRow) + float64(b%binsPerRow-1)/binsPerRow
				a.bands[w*len(harmonics)+i][b] = bandAround(axis.Hz(row)*h, size)
			}
		}
	}
	a.buf = make([]float64, windowSizes[0])
	a.coef = make([]complex128, windowSizes[0]/2+1)
	a.power = make([]float64, windowSizes[0]/2+1)
	return a
}

// hann is the periodic Hann window.
func hann(n int) []float64 {
	w := make([]float64, n)
	for i := range w {
		w[i] = 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(n))
	}
	return w
}

func bandAround(hz float64, size int) spectrumBand {
	x := hz / pitch.Rate * float64(size)
	d := math.Max(x*(math.Exp2(1.0/72)-1), 0.5)
	if x+d > float64(size)/2 {
		return spectrumBand{silent: true}
	}
	top := float64(size/2 + 1)
	lo := math.Max(x-d+0.5, 0)
	hi := math.Min(x+d+0.5, top)
	b := spectrumBand{lo: int(lo), hi: int(hi)}
	b.loFrac, b.hiFrac = lo-float64(b.lo), hi-float64(b.hi)
	return b
}

// spectra fills the cumulative power of both windows around sample at of x
// (zeros outside) and returns the mean power of the short window's samples.
func (a *analyzer) spectra(x []float64, at int) float64 {
	level := 0.0
	for w, size := range windowSizes {
		buf := a.buf[:size]
		first := at - size/2
		for i, v := range a.windows[w] {
			s := 0.0
			if j := first + i; j >= 0 && j < len(x) {
				s = x[j]
			}
			buf[i] = s * v
		}
		if w == 1 {
			for _, v := range buf {
				level += v * v
			}
			level /= float64(size) * 3 / 8
		}
		coef := a.fft[w].Coefficients(a.coef[:size/2+1], buf)
		cum, sum := a.cum[w], 0.0
		for k, c := range coef {
			p := (real(c)*real(c) + imag(c)*imag(c)) * a.scale[w]
			cum[k] = sum
			sum += p
			if w == 0 {
				a.power[k] = p
			}
		}
		cum[len(coef)] = sum
	}
	return level
}

// value integrates one band on the network's scale.
func (b spectrumBand) value(cum []float64) float32 {
	p := 0.0
	if !b.silent {
		p = at(cum, b.hi, b.hiFrac) - at(cum, b.lo, b.loFrac)
	}
	return float32((math.Log10(p+1e-9) + 9) / 4)
}

func at(cum []float64, k int, frac float64) float64 {
	if frac == 0 || k+1 >= len(cum) {
		return cum[k]
	}
	return cum[k] + frac*(cum[k+1]-cum[k])
}
