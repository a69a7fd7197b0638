package ear

import "golang.org/x/sys/cpu"

var fused = cpu.X86.HasAVX2 && cpu.X86.HasFMA

//go:noescape
func accumulate8AVX2(dst *float32, src *[8]*float32, w *[8]float32, n int)

// accumulate8 adds to dst[i] the sum over k of w[k]*src[k][i] for i in [0, n).
// n is a multiple of 8 and every src points at n readable values.
func accumulate8(dst *float32, src *[8]*float32, w *[8]float32, n int) {
	if fused {
		accumulate8AVX2(dst, src, w, n)
		return
	}
	accumulate8Plain(dst, src, w, n)
}
