package ear

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Both kernels, with and without vector instructions, against sums in 64 bits.
func TestMix(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	const taps = 13
	var values [taps][block]float32
	var skips, out [4][block]float32
	var src [taps]*float32
	var skip, dst [4]*float32
	var w [4 * taps]float32
	bias := []float32{0.1, -0.2, 0.3, 4}
	for k := range values {
		src[k] = &values[k][0]
		for i := range block {
			values[k][i] = float32(rng.NormFloat64())
		}
	}
	for i := range w {
		w[i] = float32(rng.NormFloat64())
	}
	for o := range 4 {
		skip[o], dst[o] = &skips[o][0], &out[o][0]
		for i := range block {
			skips[o][i] = float32(rng.NormFloat64())
		}
	}
	exact := func(o, width, i int) float64 {
		sum := float64(bias[o]) + float64(skips[o][i])
		for k := range taps {
			sum += float64(w[width*k+o]) * float64(values[k][i])
		}
		return max(sum, -1)
	}
	compare := func(name string, outs, width int) {
		for o := range outs {
			for i, v := range out[o] {
				if want := exact(o, width, i); math.Abs(float64(v)-want) > 2e-5 {
					t.Errorf("%s: output %d, value %d: %g, want %g", name, o, i, v, want)
				}
			}
		}
	}
	mix4(&dst, &skip, src[:], w[:], bias, 0, block, -1)
	compare("mix4", 4, 4)
	mix4Plain(&dst, &skip, src[:], w[:], bias, 0, block, -1)
	compare("mix4Plain", 4, 4)
	mix1(dst[0], skip[0], src[0], block, w[:taps], bias[0], 0, block, -1)
	compare("mix1", 1, 1)
	mix1Plain(dst[0], skip[0], src[0], block, w[:taps], bias[0], 0, block, -1)
	compare("mix1Plain", 1, 1)
}
