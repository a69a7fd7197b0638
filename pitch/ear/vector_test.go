package ear

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The vector code gives what the plain code gives, at unaligned places, with
// and without a sum to go on from, and writes nowhere else.
func TestVectorAgreesWithPlain(t *testing.T) {
	if !vector {
		t.Skip("this processor has no vector code")
	}
	rng := rand.New(rand.NewPCG(7, 8))
	random := func(n int) []float32 {
		v := make([]float32, n)
		for i := range v {
			v[i] = float32(rng.NormFloat64())
		}
		return v
	}
	const size = 5*block + 9
	for trial := range 200 {
		lo, taps := rng.IntN(9), 1+rng.IntN(40)
		hi := lo + block*rng.IntN(5)
		low := []float32{0, float32(math.Inf(-1))}[trial%2]
		values, src := make([][]float32, taps), make([]*float32, taps)
		for k := range src {
			values[k] = random(size)
			src[k] = &values[k][rng.IntN(2)]
		}
		w, bias := random(4*taps), random(4)
		var skips, got, want [4][]float32
		var skip, to, plain [4]*float32
		for o := range 4 {
			skips[o], got[o] = random(size), random(size)
			want[o] = append([]float32(nil), got[o]...)
			to[o], plain[o] = &got[o][0], &want[o][0]
			if trial%4 < 2 {
				skip[o] = &skips[o][0]
			}
		}
		if trial%3 > 0 {
			mix4(&to, &skip, src, w, bias, lo, hi, low)
			mix4Plain(&plain, &skip, src, w, bias, lo, hi, low)
		} else {
			apart := 1 + rng.IntN(size)
			x := random(taps*apart + size)
			mix1(to[0], skip[0], &x[0], apart, w[:taps], bias[0], lo, hi, low)
			mix1Plain(plain[0], skip[0], &x[0], apart, w[:taps], bias[0], lo, hi, low)
		}
		for o := range 4 {
			for i := range size {
				got, want := got[o][i], want[o][i]
				if (i < lo || i >= hi) && got != want {
					t.Fatalf("trial %d: value %d of output %d was written", trial, i, o)
				}
				if math.Abs(float64(got-want)) > 1e-4 {
					t.Fatalf("trial %d, output %d, value %d: vector %g, plain %g", trial, o, i, got, want)
				}
			}
		}
	}
}
