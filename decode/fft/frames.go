package fft

import "math"

// Frames gives the power spectra of the frames of a signal, which follow each other
// in steps of hop samples. It is not safe for concurrent use.
type Frames struct {
	hop     int
	taper   []float32
	plan    *Plan
	samples []float32
	x, work []Point
	powers  []Real
	power   []float32
}

// NewFrames prepares for frames as long as the taper, a power of two, by which their
// samples are multiplied; a tone of amplitude 1 at the middle of a bin has the power
// (sum of taper / 2)² there. Frames do not depend on those analysed with them.
func NewFrames(taper []float64, hop int) *Frames {
	n := len(taper)
	f := &Frames{
		hop: hop, taper: make([]float32, n), plan: NewPlan(n), samples: make([]float32, (Signals-1)*hop+n),
		x: make([]Point, n/2), work: make([]Point, n/2), powers: make([]Real, n/2+1), power: make([]float32, n/2+1),
	}
	for i, v := range taper {
		f.taper[i] = float32(v)
	}
	return f
}

// Each calls do for n frames of x in turn; frame i begins at sample first+i*hop,
// zeros stand for what lies outside of x. Element k of power is that of bin k, up to
// half the length of a frame; it is overwritten after do.
func (f *Frames) Each(x []float64, first, n int, do func(i int, power []float32)) {
	for from := 0; from < n; from += Signals {
		f.batch(x, first+from*f.hop)
		for i := from; i < min(from+Signals, n); i++ {
			for k := range f.power {
				f.power[k] = f.powers[k][i-from]
			}
			do(i, f.power)
		}
	}
}

// batch fills powers with the spectra of the frames from sample first on.
func (f *Frames) batch(x []float64, first int) {
	clear(f.samples)
	for i := max(0, -first); i < min(len(f.samples), len(x)-first); i++ {
		f.samples[i] = float32(x[first+i])
	}
	Windowed(f.x, f.samples, f.hop, f.taper)
	f.plan.Powers(f.powers, f.x, f.work, 1)
}

// Hann is the periodic Hann window of n samples, ½ - ½cos(2πi/n), 0 at its first sample
// (Harris 1978, "On the use of windows for harmonic analysis with the discrete Fourier
// transform", Proceedings of the IEEE 66; from memory).
func Hann(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(n))
	}
	return out
}

// Windowed makes signals of frames for [Plan.Powers]: signal i begins at sample i*hop
// of x and is multiplied by the taper.
func Windowed(dst []Point, x []float32, hop int, taper []float32) { windowed(dst, x, hop, taper) }

// windowedPlain is Windowed without vector instructions.
func windowedPlain(dst []Point, x []float32, hop int, taper []float32) {
	const tile = 32 // points that stay in the fastest cache
	for from := 0; from < len(taper)/2; from += tile {
		points := dst[from:min(from+tile, len(taper)/2)]
		w := taper[2*from:][:2*len(points)]
		for i := range Signals {
			frame := x[i*hop+2*from:][:len(w)]
			for k := range points {
				points[k][i] = frame[2*k] * w[2*k]
				points[k][i+Signals] = frame[2*k+1] * w[2*k+1]
			}
		}
	}
}
