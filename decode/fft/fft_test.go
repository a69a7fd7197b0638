package fft

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/dsp/window"
)

// noise of so many signals, each with its own scale.
func noise(n int, scale func(signal int) float64) [Signals][]float64 {
	rng := rand.New(rand.NewPCG(11, 12))
	var x [Signals][]float64
	for s := range x {
		for range n {
			x[s] = append(x[s], float64(float32(rng.NormFloat64()*scale(s))))
		}
	}
	return x
}

func one(int) float64 { return 1 }

func pointsOf(x [Signals][]float64) []Point {
	z := make([]Point, len(x[0])/2)
	for k := range z {
		for s := range x {
			z[k][s], z[k][s+Signals] = float32(x[s][2*k]), float32(x[s][2*k+1])
		}
	}
	return z
}

// Every bin of every signal against gonum's transform in 64 bits.
func TestPowersAgreeWithGonum(t *testing.T) {
	for n := 8; n <= 16384; n *= 2 {
		x := noise(n, one)
		got := make([]Real, n/2+1)
		NewPlan(n).Powers(got, pointsOf(x), make([]Point, n/2), 3)
		for s := range x {
			for k, c := range fourier.NewFFT(n).Coefficients(nil, x[s]) {
				power := 3 * (real(c)*real(c) + imag(c)*imag(c))
				// Rounding spreads over all bins: against the mean power of a bin, 3n.
				if d := math.Abs(float64(got[k][s]) - power); d > 2e-6*(math.Sqrt(power*float64(3*n))+1e-3*float64(n)) {
					t.Fatalf("size %d, signal %d, bin %d: %g, want %g", n, s, k, got[k][s], power)
				}
			}
		}
	}
}

// The periodic window of n samples is the first n of gonum's symmetric one of n+1.
func TestHannAgreesWithGonum(t *testing.T) {
	for _, n := range []int{1, 8, 1000, 4096} {
		want := make([]float64, n+1)
		for i := range want {
			want[i] = 1
		}
		window.Hann(want)
		for i, v := range Hann(n) {
			if math.Abs(v-want[i]) > 1e-15 {
				t.Fatalf("sample %d of %d is %g, want %g", i, n, v, want[i])
			}
		}
	}
}

// A signal's spectrum is the same whatever the others are.
func TestSignalsKeepApart(t *testing.T) {
	const n = 1024
	p := NewPlan(n)
	alone, loud := make([]Real, n/2+1), make([]Real, n/2+1)
	p.Powers(alone, pointsOf(noise(n, one)), make([]Point, n/2), 1)
	louder := noise(n, func(s int) float64 { return math.Pow(10, float64(s)) })
	p.Powers(loud, pointsOf(louder), make([]Point, n/2), 1)
	for k := range alone {
		if alone[k][0] != loud[k][0] {
			t.Fatalf("bin %d: %g, beside louder signals %g", k, alone[k][0], loud[k][0])
		}
	}
}

func TestVectorAgreesWithPlain(t *testing.T) {
	if !vector {
		t.Skip("this processor has no vector code")
	}
	const n = 256
	plan := NewPlan(2 * n)
	x := pointsOf(noise(2*n, one))
	stride := 1
	for i, tw := range plan.passes {
		got, want := make([]Point, n), make([]Point, n)
		pass(got, x, tw, stride)
		passPlain(want, x, tw, stride)
		for k := range got {
			for s := range got[k] {
				if math.Abs(float64(got[k][s]-want[k][s])) > 3e-6 {
					t.Fatalf("pass %d, point %d, value %d: %g, plain %g", i, k, s, got[k][s], want[k][s])
				}
			}
		}
		stride *= 4
	}
	got, want := slices.Clone(x), slices.Clone(x)
	halves(got)
	halvesPlain(want)
	if !slices.Equal(got, want) {
		t.Error("the pass in radix 2 differs")
	}
	power, plain := make([]Real, n+1), make([]Real, n+1)
	powers(power, x, plan.turns, 0.25)
	powersPlain(plain, x, plan.turns, 0.25)
	for k := range power {
		for s := range power[k] {
			if math.Abs(float64(power[k][s]-plain[k][s])) > 3e-6 {
				t.Fatalf("power of bin %d, signal %d: %g, plain %g", k, s, power[k][s], plain[k][s])
			}
		}
	}
}

// The vector code makes the same signals, at any place and hop, and writes nothing else.
func TestWindowed(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 1))
	for _, n := range []int{2, 4, 6, 8, 24, 1024} {
		for _, hop := range []int{1, 7, 96, 256} {
			x, taper := make([]float32, (Signals-1)*hop+n), make([]float32, n)
			for i := range x {
				x[i] = rng.Float32()
			}
			for i := range taper {
				taper[i] = rng.Float32()
			}
			got, want := make([]Point, n/2+1), make([]Point, n/2+1)
			Windowed(got, x, hop, taper)
			windowedPlain(want, x, hop, taper)
			if !slices.Equal(got, want) {
				t.Fatalf("%d samples, hop %d: the signals differ", n, hop)
			}
			for s := range Signals {
				if got, want := want[n/2-1][s+Signals], x[s*hop+n-1]*taper[n-1]; got != want {
					t.Fatalf("%d samples, hop %d: signal %d ends with %g, want %g", n, hop, s, got, want)
				}
			}
		}
	}
}

// Frames that hang over either end of the signal, and a last batch that is not
// full, against gonum's transform of each frame.
func TestFrames(t *testing.T) {
	const n, hop, first, frames = 512, 96, -300, 37
	rng := rand.New(rand.NewPCG(5, 6))
	x, taper := make([]float64, first+frames*hop), make([]float64, n)
	for i := range x {
		x[i] = rng.NormFloat64()
	}
	for i := range taper {
		taper[i] = 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/n)
	}
	gonum, seq, next := fourier.NewFFT(n), make([]float64, n), 0
	NewFrames(taper, hop).Each(x, first, frames, func(i int, power []float32) {
		if i != next || len(power) != n/2+1 {
			t.Fatalf("frame %d has %d bins; want frame %d", i, len(power), next)
		}
		next++
		for j := range seq {
			seq[j] = 0
			if k := first + i*hop + j; k >= 0 && k < len(x) {
				seq[j] = x[k] * taper[j]
			}
		}
		for k, c := range gonum.Coefficients(nil, seq) {
			want := real(c)*real(c) + imag(c)*imag(c)
			if d := math.Abs(float64(power[k]) - want); d > 2e-6*(math.Sqrt(want*n)+1e-3*n) {
				t.Fatalf("frame %d, bin %d: %g, want %g", i, k, power[k], want)
			}
		}
	})
	if next != frames {
		t.Errorf("%d frames, want %d", next, frames)
	}
}

func TestNewPlanPanics(t *testing.T) {
	for _, n := range []int{0, 4, 12, 1000} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("no panic for %d points", n)
				}
			}()
			NewPlan(n)
		}()
	}
}

func BenchmarkPowers(b *testing.B) {
	x := pointsOf(noise(4096, func(int) float64 { return 1e-3 }))
	work, out := make([]Point, len(x)), make([]Real, len(x)+1)
	p := NewPlan(4096)
	for b.Loop() {
		clear(x)
		p.Powers(out, x, work, 1)
	}
}

// Each kernel on the points of 4096 samples.
func BenchmarkKernels(b *testing.B) {
	const n = 2048
	plan := NewPlan(2 * n)
	x, y := pointsOf(noise(2*n, one)), make([]Point, n)
	both := func(name string, vectors, plainly func()) {
		b.Run(name+"/vector", func(b *testing.B) {
			if !vector {
				b.Skip("this processor has no vector code")
			}
			for b.Loop() {
				vectors()
			}
		})
		b.Run(name+"/plain", func(b *testing.B) {
			for b.Loop() {
				plainly()
			}
		})
	}
	first, last := plan.passes[0], plan.passes[len(plan.passes)-1]
	both("first pass", func() { pass(y, x, first, 1) }, func() { passPlain(y, x, first, 1) })
	stride := n / 4 / (len(last) / 6)
	both("last pass", func() { pass(y, x, last, stride) }, func() { passPlain(y, x, last, stride) })
	power := make([]Real, n+1)
	both("powers", func() { powers(power, x, plan.turns, 1) },
		func() { powersPlain(power, x, plan.turns, 1) })
	samples, taper := make([]float32, (Signals-1)*256+2*n), make([]float32, 2*n)
	both("windowed", func() { windowed(y, samples, 256, taper) },
		func() { windowedPlain(y, samples, 256, taper) })
	// Sums and differences of the same points grow with every run: those of zeros do not.
	clear(x)
	both("halves", func() { halves(x) }, func() { halvesPlain(x) })
}

func BenchmarkGonum(b *testing.B) {
	x, p := make([]float64, 4096), fourier.NewFFT(4096)
	out := make([]complex128, 2049)
	for b.Loop() {
		for range Signals {
			p.Coefficients(out, x)
		}
	}
}
