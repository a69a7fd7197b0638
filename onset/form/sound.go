package form

import (
	"math"

	"blowdraw/decode/fft"
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
	bassHz     = 260.0  // from there to here: the bass
	snareHz    = 4000.0 // above: snare and cymbals
	bodyHz     = 1800.0 // from here to there: snare and chords
)

// Sound is what sounds and what is struck in a recording, frame by frame, the
// first centred on Start. [Sound.Add] fills it.
type Sound struct {
	Start, Hop float64 // s
	// Notes is how strong each semitone from Lowest on is: the square root of the
	// magnitude of the spectrum's peaks there.
	Notes [][Semitones]Strength
	// Kick and Snare are the levels below 110 Hz and above 4 kHz in dB, one value
	// every DrumHop seconds.
	Kick, Snare []float32
	// Bass and Body are the same from 110 to 260 Hz and from 1.8 to 4 kHz.
	Bass, Body []float32
	DrumHop    float64

	whole, wholeDrums int // frames that lacked nothing at the end of the samples
}

// Add appends what is new in samples, mono, that begin start seconds into the
// recording; they may overlap those added before. The recording is cents off A4 =
// 440 Hz.
func (s *Sound) Add(samples []float64, rate int, start, cents float64) {
	if len(s.Notes) == 0 {
		s.Start, s.Hop, s.DrumHop = start, hop/float64(rate), drumHop/float64(rate)
	}
	s.Notes, s.Kick, s.Snare = s.Notes[:s.whole], s.Kick[:s.wholeDrums], s.Snare[:s.wholeDrums]
	s.Bass, s.Body = s.Bass[:s.wholeDrums], s.Body[:s.wholeDrums]
	first := int(math.Round((s.Start + s.Hop*float64(s.whole) - start) * float64(rate)))
	magnitudes(samples, window, hop, first, func(m []float64) {
		s.Notes = append(s.Notes, semitones(m, rate, cents))
	})
	s.whole += within(len(samples)-first-window/2, hop)
	bin := float64(rate) / drumWindow
	first = int(math.Round((s.Start + s.DrumHop*float64(s.wholeDrums) - start) * float64(rate)))
	magnitudes(samples, drumWindow, drumHop, first, func(m []float64) {
		s.Kick = append(s.Kick, level(m[1:int(kickHz/bin)+1]))
		s.Bass = append(s.Bass, level(m[int(kickHz/bin)+1:int(bassHz/bin)+1]))
		s.Body = append(s.Body, level(m[int(bodyHz/bin):int(snareHz/bin)]))
		s.Snare = append(s.Snare, level(m[int(snareHz/bin):]))
	})
	s.wholeDrums += within(len(samples)-first-drumWindow/2, drumHop)
}

// within is how many of the numbers 0, hop, 2 hop ... are not above last.
func within(last, hop int) int { return max(0, last+hop) / hop }

// magnitudes calls do with the spectra of Hann windows of size samples, the first
// centred on sample first of x, the others hop apart, up to the end of x. A sine of
// amplitude 1 has 1.
func magnitudes(x []float64, size, hop, first int, do func(m []float64)) {
	taper, m := fft.Hann(size), make([]float64, size/2+1)
	for i := range taper {
		taper[i] *= 4 / float64(size)
	}
	fft.NewFrames(taper, hop).Each(x, first-size/2, within(len(x)-1-first, hop), func(_ int, power []float32) {
		for k, p := range power {
			m[k] = math.Sqrt(float64(p))
		}
		do(m)
	})
}

// Strength is a strength from 0.003 to 4 in steps of three in a hundred, in one byte
// since long recordings have many; 0 is none.
type Strength uint8

const (
	weakest      = 0.003
	strengthStep = 0.0286 // of the natural logarithm
)

// strengthOf a value of at least 0.
func strengthOf(v float64) Strength {
	if v < weakest {
		return 0
	}
	return Strength(min(1+math.Round(math.Log(v/weakest)/strengthStep), 255))
}

var strengths = func() (values [256]float64) {
	for i := 1; i < len(values); i++ {
		values[i] = weakest * math.Exp(strengthStep*float64(i-1))
	}
	return values
}()

// Value is the strength as a number.
func (s Strength) Value() float64 { return strengths[s] }

// semitones adds up the peaks of a spectrum, each at its interpolated frequency
// (parabola through the logarithms: Smith & Serra 1987, "PARSHL").
func semitones(m []float64, rate int, cents float64) (out [Semitones]Strength) {
	var sums [Semitones]float64
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
			sums[n] += math.Sqrt(m[k])
		}
	}
	for n, v := range sums {
		out[n] = strengthOf(v)
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
