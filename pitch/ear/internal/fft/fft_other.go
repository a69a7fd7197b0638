//go:build !amd64

package fft

func pass(y, x []Point, tw []float32, stride int) { passPlain(y, x, tw, stride) }
