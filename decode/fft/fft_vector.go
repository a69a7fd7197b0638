//go:build amd64 || arm64

package fft

//go:noescape
func passVector(y, x *Point, tw *float32, butterflies, stride int)

func pass(y, x []Point, tw []float32, stride int) {
	if vector {
		passVector(&y[0], &x[0], &tw[0], len(tw)/6, stride)
		return
	}
	passPlain(y, x, tw, stride)
}

//go:noescape
func halvesVector(x *Point, half int)

func halves(x []Point) {
	if vector {
		halvesVector(&x[0], len(x)/2)
		return
	}
	halvesPlain(x)
}

//go:noescape
func powersVector(dst *Real, z *Point, turns *float32, n int, scale float32)

func powers(dst []Real, z []Point, turns []float32, scale float32) {
	if vector {
		powersVector(&dst[:len(z)+1][0], &z[0], &turns[:len(z)+2][0], len(z), scale)
		return
	}
	powersPlain(dst, z, turns, scale)
}

//go:noescape
func windowedVector(dst *Point, x *float32, hop int, taper *float32, points int)

func windowed(dst []Point, x []float32, hop int, taper []float32) {
	if n := len(taper) / 2; vector && n > 0 && n%4 == 0 {
		windowedVector(&dst[:n][0], &x[:(Signals-1)*hop+2*n][0], hop, &taper[0], n)
		return
	}
	windowedPlain(dst, x, hop, taper)
}
