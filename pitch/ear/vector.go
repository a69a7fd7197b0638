//go:build amd64 || arm64

package ear

//go:noescape
func mix4Vector(dst, skip *[4]*float32, src **float32, w, bias *float32, taps, lo, hi int, low float32)

//go:noescape
func mix1Vector(dst, skip, src, w *float32, apart, taps, lo, hi int, bias, low float32)

// mix4 sums weighted sources into four outputs at once: for i in [lo, hi)
//
//	dst[o][i] = max(low, bias[o] + skip[o][i] + sum over k of w[4k+o]*src[k][i])
//
// without skip[o] where it is nil (all or none are). hi-lo is a multiple of block.
func mix4(dst, skip *[4]*float32, src []*float32, w, bias []float32, lo, hi int, low float32) {
	if vector {
		mix4Vector(dst, skip, &src[0], &w[:4*len(src)][0], &bias[:4][0], len(src), lo, hi, low)
		return
	}
	mix4Plain(dst, skip, src, w, bias, lo, hi, low)
}

// mix1 has one output and sources that lie so many values apart: for i in [lo, hi)
//
//	dst[i] = max(low, bias + skip[i] + sum over k of w[k]*src[k*apart+i])
//
// without skip where it is nil. hi-lo is a multiple of block.
func mix1(dst, skip, src *float32, apart int, w []float32, bias float32, lo, hi int, low float32) {
	if vector {
		mix1Vector(dst, skip, src, &w[0], apart, len(w), lo, hi, bias, low)
		return
	}
	mix1Plain(dst, skip, src, apart, w, bias, lo, hi, low)
}

//go:noescape
func scaleVector(dst *[batch]float32, src *totals, n int)

// scale sets dst to the powers src on the network's scale.
func scale(dst [][batch]float32, src []totals) {
	if vector && len(src) > 0 {
		scaleVector(&dst[:len(src)][0], &src[0], len(src))
		return
	}
	scalePlain(dst, src)
}

//go:noescape
func spreadVector(dst *float32, apart int, src *[tileIn]*float32, n int)

// spread mixes n columns, at least eight, of six rows into six others that lie so many
// values apart.
func spread(dst []float32, apart int, src *[tileIn]*float32, n int) {
	if vector {
		spreadVector(&dst[:5*apart+n][0], apart, src, n)
		return
	}
	spreadPlain(dst, apart, src, n)
}

//go:noescape
func gatherVector(dst, skip *[tileRows]*float32, sums *float32, apart int, bias float32)

// gather sets a block of four rows to relu(skip + bias + what the six sums, so many
// values apart, make).
func gather(dst, skip *[tileRows]*float32, sums []float32, apart int, bias float32) {
	if vector {
		gatherVector(dst, skip, &sums[:5*apart+block][0], apart, bias)
		return
	}
	gatherPlain(dst, skip, sums, apart, bias)
}
