// Package resample changes the sampling rate of a signal by band-limited
// interpolation.
//
// Output sample n lies at input position n·from/to. Its value is the sum of
// the input samples around that position, weighted by a sinc whose cut-off
// lies below half the lower of the two rates and whose ends are faded by a
// Kaiser window (J. O. Smith, "Digital Audio Resampling Home Page",
// https://ccrma.stanford.edu/~jos/resample/). The window's shape and the
// filter's length follow from the wanted stop-band by the formulas of
// J. F. Kaiser, "Nonrecursive digital filter design using the I0-sinh window
// function", Proc. IEEE ISCAS 1974.
//
// The weights depend only on the fractional part of the position. When to/from
// in lowest terms has a small numerator every such fraction ("phase") has its
// own stored row of weights; otherwise the result is interpolated between the
// two nearest of a fixed number of rows.
//
// Each output sample depends on n alone, not on where a stream was started, so
// a section comes out bit for bit as the same stretch of the whole. The filter
// has no delay.
package resample

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
)

const (
	// Stopband is the attenuation in dB, at and above half the lower rate.
	Stopband = 96.0
	// Passband is the flat part as a fraction of half the lower rate.
	Passband = 0.88

	// Rows for interpolation, when the cut-off is the input's own. Linear
	// interpolation of a sinc in steps of 1/1024 sample errs by (π/1024)²/8,
	// -118 dB.
	fineRows = 1024
	// Up to so many times more rows are stored rather than interpolated.
	exactRows = 4
)

// Filter converts from one rate to another. It holds no signal and is safe for
// use by several goroutines.
type Filter struct {
	up, down int64       // to/from in lowest terms
	half     int64       // input samples used on each side of a position
	rows     [][]float64 // weights at fractions 0, 1/n, 2/n, … of a sample
	exact    bool        // rows are the phases; otherwise they are interpolated
}

// New returns the filter from one rate to another, both in Hz.
func New(from, to int) (*Filter, error) {
	if from <= 0 || to <= 0 {
		return nil, fmt.Errorf("cannot resample from %d Hz to %d Hz", from, to)
	}
	g := gcd(from, to)
	f := &Filter{up: int64(to / g), down: int64(from / g)}
	if from == to {
		f.rows, f.half, f.exact = [][]float64{{1, 0}}, 1, true
		return f, nil
	}
	p := newPrototype(from, to)
	f.half = p.half
	// A lower cut-off makes for more weights, which change more slowly.
	n := max(16, int64(math.Ceil(fineRows*min(1, float64(to)/float64(from)))))
	f.exact = f.up <= exactRows*n
	if f.exact {
		n = f.up
	}
	f.rows = make([][]float64, n+1)
	for i := range f.rows {
		f.rows[i] = p.row(float64(i) / float64(n))
	}
	return f, nil
}

// Span returns the first and the last input sample that output sample n
// depends on. Either may lie outside the signal, where samples count as zero.
func (f *Filter) Span(n int64) (first, last int64) {
	q, _ := f.position(n)
	return q - f.half + 1, q + f.half
}

// Len returns the number of output samples that lie inside a signal of n input
// samples.
func (f *Filter) Len(n int64) int64 {
	// the smallest m with m·down/up >= n, without overflow for long signals
	q, r := n/f.down, n%f.down
	return q*f.up + (r*f.up+f.down-1)/f.down
}

// Reach returns the number of output samples, from sample 0 on, that can be
// computed once the first n input samples are known.
func (f *Filter) Reach(n int64) int64 {
	if n <= f.half {
		return 0
	}
	return f.Len(n - f.half)
}

// Apply computes output samples n, n+1, … into dst. x holds the input from
// sample start on and must cover the spans of all of them.
func (f *Filter) Apply(dst []float64, n int64, x []float64, start int64) {
	taps := 2 * f.half
	q, phase := f.position(n)
	step, rest := f.down/f.up, f.down%f.up
	scale := float64(len(f.rows)-1) / float64(f.up)
	for i := range dst {
		lo := q - f.half + 1 - start
		in := x[lo : lo+taps]
		if f.exact {
			dst[i] = floats.Dot(f.rows[phase], in)
		} else {
			at := float64(phase) * scale
			j := int(at)
			a, b := floats.Dot(f.rows[j], in), floats.Dot(f.rows[j+1], in)
			dst[i] = a + (at-float64(j))*(b-a)
		}
		q += step
		if phase += rest; phase >= f.up {
			phase -= f.up
			q++
		}
	}
}

// Convert resamples a whole signal.
func Convert(x []float64, from, to int) ([]float64, error) {
	f, err := New(from, to)
	if err != nil {
		return nil, err
	}
	out := make([]float64, f.Len(int64(len(x))))
	if len(out) == 0 {
		return out, nil
	}
	first, _ := f.Span(0)
	_, last := f.Span(int64(len(out)) - 1)
	padded := make([]float64, max(last+1, int64(len(x)))-first)
	copy(padded[-first:], x)
	f.Apply(out, 0, padded, first)
	return out, nil
}

// position splits the input position of output sample n into a whole sample
// and a phase counted in up-ths of a sample.
func (f *Filter) position(n int64) (q, phase int64) {
	// n·down may overflow for absurd n only: 2^63/192000 samples
	q, phase = n*f.down/f.up, n*f.down%f.up
	if phase < 0 {
		q, phase = q-1, phase+f.up
	}
	return q, phase
}

// prototype is the continuous filter h(t), t in input samples.
type prototype struct {
	cutoff float64 // cycles per input sample, middle of the transition
	beta   float64 // Kaiser window
	half   int64   // h is zero beyond this many samples
	i0     float64
}

func newPrototype(from, to int) prototype {
	nyquist := 0.5 * math.Min(1, float64(to)/float64(from))
	width := nyquist * (1 - Passband)
	taps := (Stopband - 7.95) / (14.36 * width) // Kaiser's length formula
	p := prototype{
		cutoff: nyquist - width/2,
		beta:   0.1102 * (Stopband - 8.7), // Kaiser's formula for more than 50 dB
		half:   int64(math.Ceil(taps/4)) * 2,
	}
	p.i0 = bessel0(p.beta)
	return p
}

func (p prototype) at(t float64) float64 {
	u := t / float64(p.half)
	if u <= -1 || u >= 1 {
		return 0
	}
	w := bessel0(p.beta*math.Sqrt(1-u*u)) / p.i0
	x := 2 * math.Pi * p.cutoff * t
	if x == 0 {
		return 2 * p.cutoff * w
	}
	return 2 * p.cutoff * w * math.Sin(x) / x
}

// row returns the weights of the input samples around a position frac past a
// sample, scaled so that a constant signal keeps its level.
func (p prototype) row(frac float64) []float64 {
	row := make([]float64, 2*p.half)
	sum := 0.0
	for i := range row {
		row[i] = p.at(float64(int64(i)-p.half+1) - frac)
		sum += row[i]
	}
	for i := range row {
		row[i] /= sum
	}
	return row
}

// bessel0 is the modified Bessel function of the first kind and order zero, by
// its power series (Abramowitz & Stegun 9.6.12).
func bessel0(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1.0; term > sum*1e-17; k++ {
		term *= (x / 2 / k) * (x / 2 / k)
		sum += term
	}
	return sum
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}
