package vorbis

import (
	"math"
	"testing"
)

// The transform against the sum that defines it (Vorbis I, 4.3.7).
func TestMDCTAgainstDefinition(t *testing.T) {
	for _, n := range []int{64, 128, 512, 2048} {
		x := make([]float32, n/2)
		seed := uint32(7)
		for k := range x {
			seed = seed*1664525 + 1013904223
			x[k] = float32(int32(seed)) / (1 << 31)
		}
		want := make([]float64, n)
		for i := range want {
			for k, v := range x {
				want[i] += float64(v) * math.Cos(2*math.Pi/float64(n)*(float64(i)+0.5+float64(n)/4)*(float64(k)+0.5))
			}
		}
		got := make([]float32, n)
		newMDCT(n).inverse(x, got[:n/2], got[n/2:])
		for i := range want {
			if math.Abs(float64(got[i])-want[i]) > 1e-4 {
				t.Fatalf("block of %d: sample %d is %g, want %g", n, i, got[i], want[i])
			}
		}
	}
}

// Two halves of neighbouring windows must add up in power (4.3.1).
func TestSlopePower(t *testing.T) {
	for _, n := range []int{32, 128, 1024} {
		w := slope(n)
		for i := range w {
			if s := w[i]*w[i] + w[n-1-i]*w[n-1-i]; math.Abs(float64(s)-1) > 1e-6 {
				t.Errorf("slope of %d: power %g at %d", n, s, i)
			}
		}
	}
}
