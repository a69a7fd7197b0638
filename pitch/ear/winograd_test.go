package ear

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A tiled layer against the convolution as it is defined, in 64 bits, at the axis's ends
// too.
func TestTiledIsConvolution(t *testing.T) {
	const channels, rows, width, step = 8, 8, 2 * block, 2
	rng := rand.New(rand.NewPCG(4, 3))
	random := func(n int) []float32 {
		v := make([]float32, n)
		for i := range v {
			v[i] = float32(rng.NormFloat64())
		}
		return v
	}
	c := conv{random(channels * channels * 9), random(channels)}
	x, out := newTensor(channels, rows, 2*step, width), newTensor(channels, rows, 0, width)
	copy(x.data, random(len(x.data)))
	layer, scratch := newTiled(c), newTile(channels, x.past+x.width)
	for first := 0; first < rows; first += tileRows {
		layer.mix(scratch, out, x, first, step, 0, width, make([]float32, x.past+x.width))
	}
	for o := range channels {
		for r := range rows {
			for i, got := range out.row(o, r) {
				want := float64(c.b[o]) + float64(x.row(o, r)[i+step])
				for in := range channels {
					for k := range 9 {
						if from := r + k/3 - 1; from >= 0 && from < rows {
							want += float64(c.w[(o*channels+in)*9+k]) * float64(x.row(in, from)[i+k%3*step])
						}
					}
				}
				if want = max(want, 0); math.Abs(float64(got)-want) > 1e-4 {
					t.Fatalf("output %d, row %d, column %d: %g, want %g", o, r, i, got, want)
				}
			}
		}
	}
}

// What goes into sums and what comes of them, with and without vector instructions.
func TestSpreadAndGather(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 3))
	random := func(n int) []float32 {
		v := make([]float32, n)
		for i := range v {
			v[i] = float32(rng.NormFloat64())
		}
		return v
	}
	same := func(what string, got, want []float32) {
		t.Helper()
		for i := range got {
			if math.Abs(float64(got[i]-want[i])) > 1e-5 {
				t.Fatalf("%s: value %d is %g, plain %g", what, i, got[i], want[i])
			}
		}
	}
	for _, n := range []int{8, 9, 24, 98, 104} {
		apart := n + 5
		var src [tileIn]*float32
		for k := range src {
			src[k] = &random(n)[0]
		}
		got, want := make([]float32, tileIn*apart), make([]float32, tileIn*apart)
		spread(got, apart, &src, n)
		spreadPlain(want, apart, &src, n)
		same("spread", got, want)
	}
	const apart = block + 3
	sums := random(tileIn * apart)
	got, want := make([]float32, tileRows*block+1), make([]float32, tileRows*block+1)
	var to, plain, skip [tileRows]*float32
	for k := range skip {
		to[k], plain[k], skip[k] = &got[k*block], &want[k*block], &random(block)[0]
	}
	gather(&to, &skip, sums, apart, 0.3)
	gatherPlain(&plain, &skip, sums, apart, 0.3)
	same("gather", got, want)
}
