package vorbis

import "math"

// mdct is the inverse modified discrete cosine transform of blocks of n
// samples (1.3.2, 4.3.7),
//
//	y[i] = Σ X[k] cos(2π/n (i + 1/2 + n/4) (k + 1/2)),  k = 0 … n/2-1,
//
// by a DCT-IV of m = n/2 points, which in turn is a complex Fourier transform
// of m/2 points between two rotations.
type mdct struct {
	m       int
	rotate  []complex64 // exp(-iπ(8k+1)/8m)
	twiddle []complex64 // exp(-2πik/(m/2))
	reverse []int32     // bit reversal
	buf     []complex64
}

func newMDCT(n int) *mdct {
	m := n / 2
	t := &mdct{m: m, rotate: make([]complex64, m/2), twiddle: make([]complex64, m/4),
		reverse: make([]int32, m/2), buf: make([]complex64, m/2)}
	for k := range t.rotate {
		s, c := math.Sincos(-math.Pi * float64(8*k+1) / float64(8*m))
		t.rotate[k] = complex(float32(c), float32(s))
	}
	for k := range t.twiddle {
		s, c := math.Sincos(-2 * math.Pi * float64(k) / float64(m/2))
		t.twiddle[k] = complex(float32(c), float32(s))
	}
	for i := 1; i < m/2; i++ {
		t.reverse[i] = t.reverse[i/2]/2 + int32(i&1)*int32(m/4)
	}
	return t
}

// dct4 replaces x by its DCT-IV, Σ x[k] cos(π/m (i + 1/2) (k + 1/2)).
func (t *mdct) dct4(x []float32) {
	m, z := t.m, t.buf
	x = x[:m]
	for k, w := range t.rotate {
		a, b := x[2*k], x[m-1-2*k]
		z[t.reverse[k]] = complex(a*real(w)-b*imag(w), a*imag(w)+b*real(w))
	}
	t.fft(z)
	for k, w := range t.rotate {
		a, b := real(z[k]), imag(z[k])
		x[2*k] = a*real(w) - b*imag(w)
		x[m-1-2*k] = -(a*imag(w) + b*real(w))
	}
}

// fft transforms z, given in bit-reversed order.
func (t *mdct) fft(z []complex64) {
	for size := 2; size <= len(z); size *= 2 {
		half, stride := size/2, len(z)/size
		for start := 0; start < len(z); start += size {
			lo, hi := z[start:start+half], z[start+half:start+size]
			for k := range lo {
				w, b := t.twiddle[k*stride], hi[k]
				p := complex(real(b)*real(w)-imag(b)*imag(w), real(b)*imag(w)+imag(b)*real(w))
				a := lo[k]
				lo[k], hi[k] = a+p, a-p
			}
		}
	}
}

// inverse transforms the spectrum x in place and writes the block's first and
// second half. The block is the DCT-IV read from its middle on and folded back
// at its ends.
func (t *mdct) inverse(x, first, second []float32) {
	t.dct4(x)
	h := t.m / 2
	for i := range h {
		first[i] = x[h+i]
		first[h+i] = -x[t.m-1-i]
		second[i] = -x[h-1-i]
		second[h+i] = -x[i]
	}
}

// slope is the rising half of the window over n samples (4.3.1).
func slope(n int) []float32 {
	w := make([]float32, n)
	for i := range w {
		s := math.Sin((float64(i) + 0.5) / float64(n) * math.Pi / 2)
		w[i] = float32(math.Sin(math.Pi / 2 * s * s))
	}
	return w
}
