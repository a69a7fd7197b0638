//go:build !amd64

package ear

// accumulate8 adds to dst[i] the sum over k of w[k]*src[k][i] for i in [0, n).
// n is a multiple of 8 and every src points at n readable values.
func accumulate8(dst *float32, src *[8]*float32, w *[8]float32, n int) {
	accumulate8Plain(dst, src, w, n)
}
