package ear

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The vector code gives what the plain code gives, at lengths around its
// strides of 8 and 32 and at unaligned places, and writes nowhere else.
func TestVectorAgreesWithPlain(t *testing.T) {
	if !fused {
		t.Skip("this processor lacks AVX2 or FMA")
	}
	rng := rand.New(rand.NewPCG(7, 8))
	random := func(n int) []float32 {
		v := make([]float32, n)
		for i := range v {
			v[i] = float32(rng.NormFloat64())
		}
		return v
	}
	for _, n := range []int{0, 8, 16, 24, 32, 40, 64, 88, 96, 1024, 1048} {
		for shift := range 3 {
			var src [8]*float32
			var values [8][]float32
			for k := range src {
				values[k] = random(n + shift + 1)[shift:]
				src[k] = &values[k][0]
			}
			w := [8]float32(random(8))
			start := random(n + shift + 9)[shift:]
			vector, plain := append([]float32(nil), start...), append([]float32(nil), start...)
			accumulate8(&vector[0], &src, &w, n)
			accumulate8Plain(&plain[0], &src, &w, n)
			for i := range n {
				exact, size := float64(start[i]), math.Abs(float64(start[i]))
				for k := range src {
					p := float64(w[k]) * float64(values[k][i])
					exact, size = exact+p, size+math.Abs(p)
				}
				if math.Abs(float64(vector[i]-plain[i])) > 1e-5*size || math.Abs(float64(vector[i])-exact) > 1e-6*size {
					t.Fatalf("n %d, value %d: vector %g, plain %g, exactly %g", n, i, vector[i], plain[i], exact)
				}
			}
			for i := n; i < len(start); i++ {
				if vector[i] != start[i] || plain[i] != start[i] {
					t.Fatalf("n %d: value %d was written", n, i)
				}
			}
		}
	}
}
