package form

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Semitones are counted from Lowest, the low E of a bass guitar, a MIDI number.
const (
	Lowest    = 28
	Semitones = 56
)

const (
	window     = 8192 // samples: 0.37 s at 22.05 kHz, which parts a bass's semitones from 85 Hz on
	hop        = 2048
	drumWindow = 1024
	drumHop    = 512
	kickHz     = 110.0  // below: bass drum and the attack of the bass
	snareHz    = 4000.0 // above: snare and cymbals
)

// Sound is what sounds and what is struck in a recording, frame by frame, the
// first centred on Start. [Sound.Add] fills it.
type Sound struct {
	Start, Hop float64 // s
	// Notes is how strong each semitone from Lowest on is: the square root of the
	// magnitude of the spectrum's peaks there.
	Notes [][Semitones]float32
	// Kick and Snare are the levels below 110 Hz and above 4 kHz in dB, one value
	// every DrumHop seconds.
	Kick, Snare []float32
	DrumHop     float64

	whole, wholeDrums int // frames that lacked nothing at the end of the samples
}

// Add appends what is new in samples, mono, that begin start seconds into the
// recording; they may overlap those added before. The recording is cents off A4 =
// 440 Hz.
func (s *Sound) Add(samples []float64, rate int, start, cents float64) {
	if len(s.Notes) == 0 {
		s.Start, s.Hop, s.DrumHop = start, hop/float64(rate), drumHop/float64(rate)
	}
	end := start + float64(len(samples))/float64(rate)
	s.Notes, s.Kick, s.Snare = s.Notes[:s.whole], s.Kick[:s.wholeDrums], s.Snare[:s.wholeDrums]
	frame := newSpectrum(window)
	for t := s.Start + s.Hop*float64(len(s.Notes)); t < end; t += s.Hop {
		m := frame.at(samples, int(math.Round((t-start)*float64(rate))))
		s.Notes = append(s.Notes, semitones(m, rate, cents))
		if t+window/2/float64(rate) <= end {
			s.whole = len(s.Notes)
		}
	}
	frame = newSpectrum(drumWindow)
	for t := s.Start + s.DrumHop*float64(len(s.Kick)); t < end; t += s.DrumHop {
		m := frame.at(samples, int(math.Round((t-start)*float64(rate))))
		bin := float64(rate) / drumWindow
		s.Kick = append(s.Kick, level(m[1:int(kickHz/bin)+1]))
		s.Snare = append(s.Snare, level(m[int(snareHz/bin):]))
		if t+drumWindow/2/float64(rate) <= end {
			s.wholeDrums = len(s.Kick)
		}
	}
}

// spectrum is what a Hann-windowed Fourier transform needs.
type spectrum struct {
	fft        *fourier.FFT
	taper, buf []float64
	coef       []complex128
	magnitudes []float64
}

func newSpectrum(n int) *spectrum {
	s := &spectrum{fourier.NewFFT(n), make([]float64, n), make([]float64, n), make([]complex128, n/2+1), make([]float64, n/2+1)}
	for i := range s.taper {
		s.taper[i] = 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(n))
	}
	return s
}

// at is the magnitudes around a sample; they are overwritten by the next call. A
// sine of amplitude 1 has 1.
func (s *spectrum) at(x []float64, centre int) []float64 {
	n := len(s.taper)
	for i := range s.buf {
		s.buf[i] = 0
		if k := centre - n/2 + i; k >= 0 && k < len(x) {
			s.buf[i] = x[k] * s.taper[i]
		}
	}
	for i, c := range s.fft.Coefficients(s.coef, s.buf) {
		s.magnitudes[i] = 4 / float64(n) * math.Hypot(real(c), imag(c))
	}
	return s.magnitudes
}

// semitones adds up the peaks of a spectrum, each at its interpolated frequency
// (parabola through the logarithms: Smith & Serra 1987, "PARSHL").
func semitones(m []float64, rate int, cents float64) (out [Semitones]float32) {
	bin := float64(rate) / window
	reference := 440 * math.Exp2(cents/1200)
	last := int(reference * math.Exp2((Lowest+Semitones-69)/12.) / bin)
	for k := 2; k <= last; k++ {
		if m[k] <= m[k-1] || m[k] < m[k+1] || m[k] < 1e-5 {
			continue
		}
		a, b, c := math.Log(m[k-1]+1e-9), math.Log(m[k]), math.Log(m[k+1]+1e-9)
		hz := (float64(k) + (a-c)/(2*(a-2*b+c))) * bin
		n := int(math.Round(69+12*math.Log2(hz/reference))) - Lowest
		if n >= 0 && n < Semitones {
			out[n] += float32(math.Sqrt(m[k]))
		}
	}
	return out
}

// level of magnitudes in dB.
func level(m []float64) float32 {
	sum := 1e-10
	for _, v := range m {
		sum += v * v
	}
	return float32(10 * math.Log10(sum))
}
