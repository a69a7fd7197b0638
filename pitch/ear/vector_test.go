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

// Each vector code adds tap after tap and rounds once for each, so that all give the same
// bits.
func TestVectorBits(t *testing.T) {
	if !vector {
		t.Skip("this processor has no vector code")
	}
	const taps, apart = 31, block + 5
	rng := rand.New(rand.NewPCG(7, 10))
	random := func(n int) []float32 {
		v := make([]float32, n)
		for i := range v {
			v[i] = rng.Float32() - 0.5
		}
		return v
	}
	x, w, bias := random(taps*apart), random(4*taps), random(4)
	skips, out := random(4*block), make([]float32, 4*block)
	src := make([]*float32, taps)
	for k := range src {
		src[k] = &x[k*apart]
	}
	var to, skip [4]*float32
	for o := range to {
		to[o], skip[o] = &out[o*block], &skips[o*block]
	}
	compare := func(name string, outs int) {
		t.Helper()
		for o := range outs {
			for i := range block {
				want := bias[o] + skips[o*block+i]
				for k := range taps {
					want = fma(w[outs*k+o], x[k*apart+i], want)
				}
				if got := out[o*block+i]; got != max(want, -0.5) {
					t.Fatalf("%s: output %d, value %d: %g, want %g", name, o, i, got, want)
				}
			}
		}
	}
	mix4(&to, &skip, src, w, bias, 0, block, -0.5)
	compare("mix4", 4)
	mix1(to[0], skip[0], &x[0], apart, w[:taps], bias[0], 0, block, -0.5)
	compare("mix1", 1)
}

// fma is a*b + c rounded once: the exact product and c are added in 64 bits, rounded to odd
// (Boldo & Melquiond 2008, "Emulation of FMA and correctly rounded sums: proved algorithms
// using rounding to odd", IEEE Trans. Computers 57).
func fma(a, b, c float32) float32 {
	product, term := float64(a)*float64(b), float64(c)
	sum := product + term
	part := sum - product
	lost := (product - (sum - part)) + (term - part)
	bits := math.Float64bits(sum)
	if lost == 0 || bits&1 == 1 {
		return float32(sum)
	}
	if (lost > 0) == (sum > 0) {
		return float32(math.Float64frombits(bits + 1))
	}
	return float32(math.Float64frombits(bits - 1))
}

// What goes through each kernel at once is what the shipped network puts through it.
func BenchmarkKernels(b *testing.B) {
	const columns, taps, apart = 4 * block, 25, 7 * block
	rng := rand.New(rand.NewPCG(7, 9))
	random := func(n int) []float32 {
		v := make([]float32, n)
		for i := range v {
			v[i] = rng.Float32()
		}
		return v
	}
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
	x, w, bias := random(taps*apart+columns), random(4*3*48), random(4)
	src, dst := make([]*float32, 3*48), random(tileIn*apart)
	for k := range src {
		src[k] = &x[5*k]
	}
	var to, none [4]*float32
	for o := range to {
		to[o] = &dst[o*apart]
	}
	both("mix4", func() { mix4(&to, &none, src, w, bias, 0, block, linear) },
		func() { mix4Plain(&to, &none, src, w, bias, 0, block, linear) })
	both("mix1", func() { mix1(to[0], &x[0], &x[0], apart, w[:taps], 1, 0, columns, 0) },
		func() { mix1Plain(to[0], &x[0], &x[0], apart, w[:taps], 1, 0, columns, 0) })
	rows := (*[tileIn]*float32)(src)
	both("spread", func() { spread(dst, apart, rows, columns+4) },
		func() { spreadPlain(dst, apart, rows, columns+4) })
	from := (*[tileRows]*float32)(src)
	both("gather", func() { gather(&to, from, x, apart, 1) },
		func() { gatherPlain(&to, from, x, apart, 1) })
	powers, scaled := make([]totals, inBins), make([][batch]float32, inBins)
	for k := range powers {
		for i := range powers[k] {
			powers[k][i] = rng.Float64()
		}
	}
	both("scale", func() { scale(scaled, powers) }, func() { scalePlain(scaled, powers) })
}
