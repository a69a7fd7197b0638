package fft

import "golang.org/x/sys/cpu"

var vector = cpu.X86.HasAVX2 && cpu.X86.HasFMA

//go:noescape
func passAVX2(y, x *Point, tw *float32, butterflies, stride int)

func pass(y, x []Point, tw []float32, stride int) {
	if vector {
		passAVX2(&y[0], &x[0], &tw[0], len(tw)/6, stride)
		return
	}
	passPlain(y, x, tw, stride)
}
