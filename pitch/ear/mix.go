package ear

import "unsafe"

// block is how many steps the kernels work on at once.
const block = 24

// mix4Plain is mix4 without vector instructions.
func mix4Plain(dst, skip *[4]*float32, src []*float32, w, bias []float32, lo, hi int, low float32) {
	var d [4][]float32
	for o := range d {
		d[o] = unsafe.Slice(dst[o], hi)[lo:hi]
		start(d[o], skip[o], lo, bias[o])
	}
	d0, d1, d2, d3 := d[0], d[1], d[2], d[3]
	for k, p := range src {
		w0, w1, w2, w3 := w[4*k], w[4*k+1], w[4*k+2], w[4*k+3]
		for i, v := range unsafe.Slice(p, hi)[lo:hi] {
			d0[i] += w0 * v
			d1[i] += w1 * v
			d2[i] += w2 * v
			d3[i] += w3 * v
		}
	}
	for o := range d {
		atLeast(d[o], low)
	}
}

// mix1Plain is mix1 without vector instructions.
func mix1Plain(dst, skip, src *float32, apart int, w []float32, bias float32, lo, hi int, low float32) {
	d := unsafe.Slice(dst, hi)[lo:hi]
	start(d, skip, lo, bias)
	for k := range w {
		for i, v := range unsafe.Slice(src, k*apart+hi)[k*apart+lo:] {
			d[i] += w[k] * v
		}
	}
	atLeast(d, low)
}

// start sets d to bias, plus skip from lo on if there is one.
func start(d []float32, skip *float32, lo int, bias float32) {
	if skip == nil {
		for i := range d {
			d[i] = bias
		}
		return
	}
	for i, v := range unsafe.Slice(skip, lo+len(d))[lo:] {
		d[i] = v + bias
	}
}

func atLeast(d []float32, low float32) {
	for i, v := range d {
		d[i] = max(v, low)
	}
}
