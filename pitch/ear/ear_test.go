package ear

import (
	"math/rand/v2"
	"testing"

	"blowdraw/pitch"
)

// randomNetwork has the shape of a trained one.
func randomNetwork(c, stride int) *network {
	rng := rand.New(rand.NewPCG(1, 2))
	values := func(n int) []float32 {
		v := make([]float32, n)
		for i := range v {
			v[i] = float32(rng.NormFloat64()) * 0.05
		}
		return v
	}
	layer := func(in, out int) conv { return conv{values(in * out), values(out)} }
	n := &weights{c: c, stride: stride}
	n.conv1 = layer(inChannels*freqTaps*timeTaps(stride), c)
	n.embed, n.layout = values(c*pitch.Rows), values(c*pitch.LayoutFeatures)
	for i := range n.res {
		n.res[i] = layer(9*c, c)
	}
	n.dwf, n.dwg, n.dwt, n.dwl = layer(dwfTaps, c), layer(dwfTaps, c), layer(dwtTaps, c), layer(dwlTaps, c)
	n.keep, n.gate, n.back = layer(c, contextIn), layer(c, 1), layer(2*contextIn, c)
	n.row, n.g1 = layer(c, 2*stride), layer(c, globalIn)
	n.g2, n.g3 = layer(pitch.Rows*globalIn*3, globalWide), layer(globalWide, stride*perFrame)
	return newNetwork(n)
}

func noise(seconds float64) []float64 {
	rng := rand.New(rand.NewPCG(3, 4))
	x := make([]float64, int(seconds*pitch.Rate))
	for i := range x {
		x[i] = rng.NormFloat64() * 0.1
	}
	return x
}

func BenchmarkHear(b *testing.B) {
	b.Run("shipped", func(b *testing.B) { benchmark(b, newEar(b)) })
	for _, shape := range []struct {
		name      string
		c, stride int
	}{{"48/1", 48, 1}, {"64/2", 64, 2}, {"48/2", 48, 2}} {
		b.Run(shape.name, func(b *testing.B) {
			benchmark(b, &Ear{randomNetwork(shape.c, shape.stride)})
		})
	}
}

// benchmark is about one processor with GOMAXPROCS=1.
func benchmark(b *testing.B, e *Ear) {
	x := noise(20)
	for b.Loop() {
		e.Hear(x, 0, pitch.Axis{Base: 60})
	}
	b.ReportMetric(20*float64(b.N)/b.Elapsed().Seconds(), "x_realtime")
}
