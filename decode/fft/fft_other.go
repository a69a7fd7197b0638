//go:build !amd64 && !arm64

package fft

// vector is whether this processor runs the vector code.
const vector = false

func pass(y, x []Point, tw []float32, stride int) { passPlain(y, x, tw, stride) }

func halves(x []Point) { halvesPlain(x) }

func powers(dst []Real, z []Point, turns []float32, scale float32) { powersPlain(dst, z, turns, scale) }

func windowed(dst []Point, x []float32, hop int, taper []float32) { windowedPlain(dst, x, hop, taper) }
