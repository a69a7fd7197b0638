// Package fft computes power spectra of sixteen real signals side by side.
//
// Two signals share one complex transform, one as its real, one as its imaginary
// part (Cooley, Lewis & Welch 1970, "The fast Fourier transform algorithm:
// programming considerations in the calculation of sine, cosine and Laplace
// transforms", J. Sound Vib. 12), and eight such transforms go through the same
// steps at once, one in each lane of a vector. The transform is Stockham's
// self-sorting one in radix 4 (Van Loan 1992, Computational Frameworks for the
// Fast Fourier Transform, section 1.7).
package fft

import (
	"fmt"
	"math"
)

// Lanes is the number of complex transforms done at once, Signals that of real ones.
const (
	Lanes   = 8
	Signals = 2 * Lanes
)

// Point is one sample or one spectral bin of all signals: of eight signals in
// the real parts, then of eight in the imaginary parts.
type Point [Signals]float32

// Plan is what transforms of one size share, safe for concurrent use.
type Plan struct {
	n      int
	passes [][]float32 // for each pass six factors per butterfly
}

// NewPlan prepares for transforms of n points, a power of four.
func NewPlan(n int) *Plan {
	p := &Plan{n: n}
	for size := n; size > 1; size /= 4 {
		if size%4 != 0 {
			panic(fmt.Sprintf("fft: %d is no power of four", n))
		}
		tw := make([]float32, 0, size/4*6)
		for k := range size / 4 {
			for power := 1; power <= 3; power++ {
				sin, cos := math.Sincos(-2 * math.Pi * float64(k*power) / float64(size))
				tw = append(tw, float32(cos), float32(sin))
			}
		}
		p.passes = append(p.passes, tw)
	}
	return p
}

// Transform computes the complex spectra of x. Both x and work, as long as x,
// are overwritten; the result is one of them.
func (p *Plan) Transform(x, work []Point) []Point {
	x, work = x[:p.n], work[:p.n]
	stride := 1
	for _, tw := range p.passes {
		pass(work, x, tw, stride)
		x, work = work, x
		stride *= 4
	}
	return x
}

// Power sets dst to scale times the power of bin k of each signal, k up to half
// the size, from the complex spectra z.
func Power(dst *Point, z []Point, k int, scale float32) {
	a, b := &z[k], &z[(len(z)-k)%len(z)]
	scale /= 4
	for i := range Lanes {
		re, im := a[i]+b[i], a[i+Lanes]-b[i+Lanes]
		dst[i] = (re*re + im*im) * scale
		re, im = a[i+Lanes]+b[i+Lanes], b[i]-a[i]
		dst[i+Lanes] = (re*re + im*im) * scale
	}
}

// passPlain does the butterflies of one pass from x into y; stride is the
// number of transforms that the passes before have split it into.
func passPlain(y, x []Point, tw []float32, stride int) {
	quarter := len(x) / 4
	for p := 0; p < quarter/stride; p++ {
		w := (*[6]float32)(tw[6*p:])
		for q := range stride {
			i := p*stride + q
			o := 4*p*stride + q
			butterfly(&y[o], &y[o+stride], &y[o+2*stride], &y[o+3*stride],
				&x[i], &x[i+quarter], &x[i+2*quarter], &x[i+3*quarter], w)
		}
	}
}

func butterfly(y0, y1, y2, y3, a, b, c, d *Point, w *[6]float32) {
	for r := range Lanes {
		i := r + Lanes
		sumR, sumI, difR, difI := a[r]+c[r], a[i]+c[i], a[r]-c[r], a[i]-c[i]
		oddR, oddI, turnR, turnI := b[r]+d[r], b[i]+d[i], b[i]-d[i], d[r]-b[r] // turn: -i(b-d)
		y0[r], y0[i] = sumR+oddR, sumI+oddI
		y1[r], y1[i] = times(difR+turnR, difI+turnI, w[0], w[1])
		y2[r], y2[i] = times(sumR-oddR, sumI-oddI, w[2], w[3])
		y3[r], y3[i] = times(difR-turnR, difI-turnI, w[4], w[5])
	}
}

func times(re, im, wr, wi float32) (float32, float32) { return re*wr - im*wi, re*wi + im*wr }
