// Package fft computes power spectra of eight real signals side by side, in 32 bits,
// and those of the frames of one signal.
//
// The signals go through the same steps at once, one in each lane of a vector, and
// none of them depends on the others. A real signal's even samples are the real
// parts, its odd ones the imaginary parts of a complex signal of half its length
// (Cooley, Lewis & Welch 1970, "The fast Fourier transform algorithm: programming
// considerations in the calculation of sine, cosine and Laplace transforms", J.
// Sound Vib. 12). The transform is Stockham's self-sorting one in radix 4 (Van Loan
// 1992, Computational Frameworks for the Fast Fourier Transform, section 1.7), with
// one pass in radix 2 at the end where that is left. Rounding leaves errors of a few
// parts in ten million of a signal's root mean square in every bin.
//
// It is vector code on amd64 processors with AVX2 and FMA and on all of arm64 (NEON), which
// give the same bits; others run plain Go several times slower, which rounds otherwise.
//
// It is the project's own because nearly all that the program does with sound goes through
// it, frame after frame, and gonum's package dsp/fourier transforms one signal at a time in
// 64 bits: the spectra of eight signals of 4096 samples take over 40 times as long there
// (BenchmarkPowers and BenchmarkGonum, on a processor with AVX). Where each signal has a
// lane nothing is shuffled within vectors, 32 bits are as many as samples and networks
// have, and what a frame gives does not depend on those beside it: pieces of a recording
// that are analysed apart agree to the bit.
package fft

import (
	"fmt"
	"math"
)

// Signals is the number of real signals transformed at once.
const Signals = 8

// Real is one value of each signal.
type Real [Signals]float32

// Point is one complex value of each signal: real parts, then imaginary parts.
type Point [2 * Signals]float32

// Plan is what transforms of one size share, safe for concurrent use.
type Plan struct {
	n      int         // complex points
	passes [][]float32 // for each pass six factors per butterfly
	turns  []float32   // e^(-pi i k/n), for k from 0 to n/2
}

// NewPlan prepares for signals of so many samples, a power of two from 8 on.
func NewPlan(samples int) *Plan {
	if samples < 8 || samples&(samples-1) != 0 {
		panic(fmt.Sprintf("fft: %d is no power of two from 8 on", samples))
	}
	p := &Plan{n: samples / 2}
	for size := p.n; size >= 4; size /= 4 {
		tw := make([]float32, 0, size/4*6)
		for k := range size / 4 {
			for power := 1; power <= 3; power++ {
				tw = append(tw, turn(k*power, size)...)
			}
		}
		p.passes = append(p.passes, tw)
	}
	for k := range p.n/2 + 1 {
		p.turns = append(p.turns, turn(k, samples)...)
	}
	return p
}

// turn is e^(-2 pi i k/n).
func turn(k, n int) []float32 {
	sin, cos := math.Sincos(-2 * math.Pi * float64(k) / float64(n))
	return []float32{float32(cos), float32(sin)}
}

// Powers sets dst[k] to scale times the power of bin k of each signal, for k from 0
// to half the number of samples. Sample 2i of each signal is a real part of x[i],
// sample 2i+1 an imaginary part. Both x and work, as long as x, are overwritten.
func (p *Plan) Powers(dst []Real, x, work []Point, scale float32) {
	z := p.transform(x, work)
	powers(dst[:p.n+1], z, p.turns, scale)
}

// transform computes the complex spectra of x; the result is x or work.
func (p *Plan) transform(x, work []Point) []Point {
	x, work = x[:p.n], work[:p.n]
	stride := 1
	for _, tw := range p.passes {
		pass(work, x, tw, stride)
		x, work = work, x
		stride *= 4
	}
	if stride < p.n {
		halves(x)
	}
	return x
}

// powersPlain separates the spectra of the even and odd samples, which are what is
// even and what is odd about bin 0 of z, and joins them to that of the whole.
func powersPlain(dst []Real, z []Point, turns []float32, scale float32) {
	n := len(z)
	for i := range Signals {
		sum, dif := z[0][i]+z[0][i+Signals], z[0][i]-z[0][i+Signals]
		dst[0][i], dst[n][i] = sum*sum*scale, dif*dif*scale
	}
	scale /= 4
	for k := 1; k <= n/2; k++ {
		a, b, wr, wi := &z[k], &z[n-k], turns[2*k], turns[2*k+1]
		for r := range Signals {
			i := r + Signals
			evenR, evenI, oddR, oddI := a[r]+b[r], a[i]-b[i], a[i]+b[i], b[r]-a[r]
			oddR, oddI = times(oddR, oddI, wr, wi)
			dst[k][r] = ((evenR+oddR)*(evenR+oddR) + (evenI+oddI)*(evenI+oddI)) * scale
			dst[n-k][r] = ((evenR-oddR)*(evenR-oddR) + (evenI-oddI)*(evenI-oddI)) * scale
		}
	}
}

// halvesPlain is the pass in radix 2 that is left at the end, in place.
func halvesPlain(x []Point) {
	half := len(x) / 2
	for k := range half {
		a, b := &x[k], &x[k+half]
		for i := range a {
			a[i], b[i] = a[i]+b[i], a[i]-b[i]
		}
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
	for r := range Signals {
		i := r + Signals
		sumR, sumI, difR, difI := a[r]+c[r], a[i]+c[i], a[r]-c[r], a[i]-c[i]
		oddR, oddI, turnR, turnI := b[r]+d[r], b[i]+d[i], b[i]-d[i], d[r]-b[r] // turn: -i(b-d)
		y0[r], y0[i] = sumR+oddR, sumI+oddI
		y1[r], y1[i] = times(difR+turnR, difI+turnI, w[0], w[1])
		y2[r], y2[i] = times(sumR-oddR, sumI-oddI, w[2], w[3])
		y3[r], y3[i] = times(difR-turnR, difI-turnI, w[4], w[5])
	}
}

func times(re, im, wr, wi float32) (float32, float32) { return re*wr - im*wi, re*wi + im*wr }
