package ear

import "unsafe"

// accumulate8Plain is accumulate8 without vector instructions.
func accumulate8Plain(dst *float32, src *[8]*float32, w *[8]float32, n int) {
	d := unsafe.Slice(dst, n)
	s0, s1 := unsafe.Slice(src[0], n), unsafe.Slice(src[1], n)
	s2, s3 := unsafe.Slice(src[2], n), unsafe.Slice(src[3], n)
	s4, s5 := unsafe.Slice(src[4], n), unsafe.Slice(src[5], n)
	s6, s7 := unsafe.Slice(src[6], n), unsafe.Slice(src[7], n)
	for i := range d {
		d[i] += w[0]*s0[i] + w[1]*s1[i] + w[2]*s2[i] + w[3]*s3[i] +
			w[4]*s4[i] + w[5]*s5[i] + w[6]*s6[i] + w[7]*s7[i]
	}
}
