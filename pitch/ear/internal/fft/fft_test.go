package fft

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

func random(n int, scale func(signal int) float64) []Point {
	rng := rand.New(rand.NewPCG(11, 12))
	x := make([]Point, n)
	for k := range x {
		for s := range Signals {
			x[k][s] = float32(rng.NormFloat64() * scale(s))
		}
	}
	return x
}

// Every bin of every signal against gonum's transform in 64 bits.
func TestPowerAgreesWithGonum(t *testing.T) {
	for _, n := range []int{4, 16, 64, 1024, 4096} {
		x := random(n, func(int) float64 { return 1 })
		want := make([][]complex128, Signals)
		seq := make([]float64, n)
		for s := range Signals {
			for k := range x {
				seq[k] = float64(x[k][s])
			}
			want[s] = fourier.NewFFT(n).Coefficients(nil, seq)
		}
		z := NewPlan(n).Transform(x, make([]Point, n))
		for k := range n/2 + 1 {
			var got Point
			Power(&got, z, k, 3)
			for s := range Signals {
				c := want[s][k]
				power := 3 * (real(c)*real(c) + imag(c)*imag(c))
				// Rounding spreads over all bins: against the mean power of a bin, 3n.
				if d := math.Abs(float64(got[s]) - power); d > 2e-6*(math.Sqrt(power*float64(3*n))+1e-3*float64(n)) {
					t.Fatalf("size %d, signal %d, bin %d: %g, want %g", n, s, k, got[s], power)
				}
			}
		}
	}
}

// A loud signal leaves a silent one that shares its transform silent.
func TestSignalsKeepApart(t *testing.T) {
	const n = 1024
	x := random(n, func(s int) float64 { return float64(s / Lanes) })
	z := NewPlan(n).Transform(x, make([]Point, n))
	for k := range n/2 + 1 {
		var p Point
		Power(&p, z, k, 1)
		for s := range Lanes {
			if p[s] > 1e-11*n {
				t.Fatalf("bin %d of silent signal %d: %g", k, s, p[s])
			}
		}
	}
}

func TestVectorAgreesWithPlain(t *testing.T) {
	const n = 256
	plan := NewPlan(n)
	stride := 1
	for i, tw := range plan.passes {
		x := random(n, func(int) float64 { return 1 })
		got, want := make([]Point, n), make([]Point, n)
		pass(got, x, tw, stride)
		passPlain(want, x, tw, stride)
		for k := range got {
			for s := range Signals {
				if math.Abs(float64(got[k][s]-want[k][s])) > 3e-6 {
					t.Fatalf("pass %d, point %d, signal %d: %g, plain %g", i, k, s, got[k][s], want[k][s])
				}
			}
		}
		stride *= 4
	}
}

func TestNewPlanPanics(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("no panic for 2048 points")
		}
	}()
	NewPlan(2048)
}

func BenchmarkTransform(b *testing.B) {
	x, work := random(4096, func(int) float64 { return 1e-3 }), make([]Point, 4096)
	p := NewPlan(4096)
	for b.Loop() {
		clear(x)
		p.Transform(x, work)
	}
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
