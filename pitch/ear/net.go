package ear

import (
	"fmt"
	"math"

	"blowdraw/pitch"
)

// conv is a convolution's weights, [out][in][freq][time] and one bias per output.
type conv struct{ w, b []float32 }

// network is the reed model. Activations are [channel][row][time].
//
//	input     16 channels x 120 bins, two frames a step when stride is 2
//	conv1     7 bins x 4 (3) frames, three bins and stride frames a step,
//	          plus a learned value and the layout's features per row
//	res       four residual 3 x 3 convolutions, reaching 1, 1, 2, 4 steps
//	dwf, dwt  depth-wise along frequency (25 rows) after the second,
//	          along time (15 steps) after the third
//	dwl       depth-wise along time, 15 steps of which each is 8, after the fourth
//	row       per row: sounding and attack of each frame
//	g1 g2 g3  over all rows: breath, count, event and corrections to row
type network struct {
	c, stride  int
	conv1      conv
	embed      []float32 // [c][Rows]
	layout     []float32 // [c][LayoutFeatures]
	res        [4]conv
	dwf, dwt   conv
	dwl        conv
	row        conv
	g1, g2, g3 conv
}

const (
	freqTaps   = 7
	dwfTaps    = 25
	dwtTaps    = 15
	dwlTaps    = 15
	dwlStep    = 8  // steps between the taps of dwl
	globalIn   = 12 // channels kept per row for the head over all rows
	globalWide = 128
	perFrame   = 3 + 4 + 1 + 2*pitch.Rows // outputs of g3 for each frame
)

var dilations = [4]int{1, 1, 2, 4}

// reach is the number of frames on either side that an output depends on.
func (n *network) reach() int {
	steps := 1 + dwtTaps/2 + dwlTaps/2*dwlStep + 1
	for _, d := range dilations {
		steps += d
	}
	return steps*n.stride + 2
}

// outputs of the network for t frames: probabilities, see pitch.Frames.
type outputs struct {
	t        int
	sounding []float32 // [t][Rows]
	attack   []float32
	breath   [][3]float32
	count    [][4]float32
	event    []float32
}

// forward runs the network over a block of t frames, t a multiple of stride.
// in holds one tensor per phase of the stride: in[p] has frames p, p+stride, ….
func (n *network) forward(in []*tensor, layout *[pitch.LayoutFeatures][pitch.Rows]float32) outputs {
	x := n.first(in, layout)
	for i := range n.res {
		x = n.residual(x, n.res[i], dilations[i])
		switch i {
		case 1:
			x = depthwise(x, n.dwf, dwfTaps, 1, 0)
		case 2:
			x = depthwise(x, n.dwt, dwtTaps, 0, 1)
		}
	}
	if n.dwl.w != nil { // until the weights have it
		x = depthwise(x, n.dwl, dwlTaps, 0, dwlStep)
	}
	return n.heads(x)
}

func (n *network) first(in []*tensor, layout *[pitch.LayoutFeatures][pitch.Rows]float32) *tensor {
	out := newTensor(n.c, pitch.Rows, in[0].t)
	kt := n.timeTaps()
	parallel(pitch.Rows, func(r int) {
		zero := newTensor(1, 1, out.t)
		var p taps
		for ch := range inChannels {
			for kf := range freqTaps {
				bin := binsPerRow*r - 2 + kf
				for k := range kt {
					frame := k - 1 // against the step's first frame
					phase := ((frame % n.stride) + n.stride) % n.stride
					shift := (frame - phase) / n.stride
					if bin < 0 || bin >= inBins {
						p = append(p, zero.from(0, 0, shift))
					} else {
						p = append(p, in[phase].from(ch, bin, shift))
					}
				}
			}
		}
		count := len(p)
		p = padTaps(p)
		for c := range n.c {
			bias := n.conv1.b[c] + n.embed[c*pitch.Rows+r]
			for l := range pitch.LayoutFeatures {
				bias += n.layout[c*pitch.LayoutFeatures+l] * layout[l][r]
			}
			dst := out.row(c, r)
			fill(dst, bias)
			p.sum(&dst[0], n.conv1.w[c*count:(c+1)*count], len(dst))
			out.finish(dst)
		}
	})
	return out
}

func (n *network) timeTaps() int {
	if n.stride == 2 {
		return 4
	}
	return 3
}

func (n *network) residual(x *tensor, w conv, dilation int) *tensor {
	out := newTensor(x.channels, x.rows, x.t)
	parallel(x.rows, func(r int) {
		zero := newTensor(1, 1, x.t)
		var p taps
		for c := range x.channels {
			for kf := -1; kf <= 1; kf++ {
				for kt := -1; kt <= 1; kt++ {
					if r+kf < 0 || r+kf >= x.rows {
						p = append(p, zero.from(0, 0, kt*dilation))
					} else {
						p = append(p, x.from(c, r+kf, kt*dilation))
					}
				}
			}
		}
		count := len(p)
		p = padTaps(p)
		for c := range out.channels {
			dst := out.row(c, r)
			addBias(dst, x.row(c, r), w.b[c])
			p.sum(&dst[0], w.w[c*count:(c+1)*count], len(dst))
			out.finish(dst)
		}
	})
	return out
}

// depthwise convolves every channel by itself with width taps that lie rowStep
// rows and timeStep steps apart.
func depthwise(x *tensor, w conv, width, rowStep, timeStep int) *tensor {
	out := newTensor(x.channels, x.rows, x.t)
	parallel(x.rows, func(r int) {
		zero := newTensor(1, 1, x.t)
		for c := range x.channels {
			var p taps
			for k := -(width / 2); k <= width/2; k++ {
				if from := r + k*rowStep; from < 0 || from >= x.rows {
					p = append(p, zero.from(0, 0, k*timeStep))
				} else {
					p = append(p, x.from(c, from, k*timeStep))
				}
			}
			dst := out.row(c, r)
			addBias(dst, x.row(c, r), w.b[c])
			padTaps(p).sum(&dst[0], w.w[c*width:(c+1)*width], len(dst))
			out.finish(dst)
		}
	})
	return out
}

// heads turns the last activations into probabilities per frame.
func (n *network) heads(x *tensor) outputs {
	rows := n.pointwise(x, n.row, 2*n.stride, false)
	g := n.overRows(x)
	t := x.t * n.stride
	out := outputs{
		t:        t,
		sounding: make([]float32, t*pitch.Rows),
		attack:   make([]float32, t*pitch.Rows),
		breath:   make([][3]float32, t),
		count:    make([][4]float32, t),
		event:    make([]float32, t),
	}
	for s := range n.stride {
		for j := range x.t {
			i := j*n.stride + s
			v := func(k int) float32 { return g.row(0, s*perFrame+k)[j] }
			for k := range 3 {
				out.breath[i][k] = v(k)
			}
			for k := range 4 {
				out.count[i][k] = v(3 + k)
			}
			softmax(out.breath[i][:])
			softmax(out.count[i][:])
			out.event[i] = sigmoid(v(7))
			for r := range pitch.Rows {
				out.sounding[i*pitch.Rows+r] = sigmoid(rows.row(2*s, r)[j] + v(8+r))
				out.attack[i*pitch.Rows+r] = sigmoid(rows.row(2*s+1, r)[j] + v(8+pitch.Rows+r))
			}
		}
	}
	return out
}

// pointwise is a 1 x 1 convolution.
func (n *network) pointwise(x *tensor, w conv, channels int, rectify bool) *tensor {
	out := newTensor(channels, x.rows, x.t)
	parallel(x.rows, func(r int) {
		var p taps
		for c := range x.channels {
			p = append(p, x.from(c, r, 0))
		}
		count := len(p)
		p = padTaps(p)
		for c := range channels {
			dst := out.row(c, r)
			fill(dst, w.b[c])
			p.sum(&dst[0], w.w[c*count:(c+1)*count], len(dst))
			if rectify {
				out.finish(dst)
			}
		}
	})
	return out
}

// overRows is the head that sees all rows at once; its result has one channel
// and stride*perFrame rows.
func (n *network) overRows(x *tensor) *tensor {
	kept := n.pointwise(x, n.g1, globalIn, true)
	var p taps
	for r := range x.rows {
		for c := range globalIn {
			for k := -1; k <= 1; k++ {
				p = append(p, kept.from(c, r, k))
			}
		}
	}
	wide := dense(p, n.g2, globalWide, x.t)
	parallel(globalWide, func(i int) { wide.finish(wide.row(0, i)) })
	p = p[:0]
	for i := range globalWide {
		p = append(p, wide.from(0, i, 0))
	}
	return dense(p, n.g3, n.stride*perFrame, x.t)
}

// dense is a full layer over the sources p, one row per output.
func dense(p taps, w conv, outs, t int) *tensor {
	out := newTensor(1, outs, t)
	count := len(p)
	p = padTaps(p)
	parallel(outs, func(i int) {
		dst := out.row(0, i)
		fill(dst, w.b[i])
		p.sum(&dst[0], w.w[i*count:(i+1)*count], len(dst))
	})
	return out
}

func fill(dst []float32, v float32) {
	for i := range dst {
		dst[i] = v
	}
}

func addBias(dst, src []float32, b float32) {
	for i, v := range src {
		dst[i] = v + b
	}
}

func sigmoid(x float32) float32 { return float32(1 / (1 + math.Exp(-float64(x)))) }

func softmax(v []float32) {
	top := v[0]
	for _, x := range v {
		top = max(top, x)
	}
	sum := float32(0)
	for i, x := range v {
		v[i] = float32(math.Exp(float64(x - top)))
		sum += v[i]
	}
	for i := range v {
		v[i] /= sum
	}
}

// check verifies that every weight has the size the shapes ask for.
func (n *network) check() error {
	if n.c <= 0 || n.c%8 != 0 || (n.stride != 1 && n.stride != 2) {
		return fmt.Errorf("unknown shape: %d channels, stride %d", n.c, n.stride)
	}
	want := func(name string, got []float32, size int) error {
		if len(got) != size {
			return fmt.Errorf("%s has %d values, want %d", name, len(got), size)
		}
		return nil
	}
	layers := []struct {
		name         string
		conv         conv
		inputs, outs int
	}{
		{"conv1", n.conv1, inChannels * freqTaps * n.timeTaps(), n.c},
		{"res1", n.res[0], n.c * 9, n.c}, {"res2", n.res[1], n.c * 9, n.c},
		{"res3", n.res[2], n.c * 9, n.c}, {"res4", n.res[3], n.c * 9, n.c},
		{"dwf", n.dwf, dwfTaps, n.c}, {"dwt", n.dwt, dwtTaps, n.c}, {"dwl", n.dwl, dwlTaps, n.c},
		{"row", n.row, n.c, 2 * n.stride}, {"g1", n.g1, n.c, globalIn},
		{"g2", n.g2, pitch.Rows * globalIn * 3, globalWide},
		{"g3", n.g3, globalWide, n.stride * perFrame},
	}
	for _, l := range layers {
		if l.name == "dwl" && l.conv.w == nil && l.conv.b == nil { // TODO: drop once weights.bin has dwl
			continue
		}
		if err := want(l.name+".w", l.conv.w, l.inputs*l.outs); err != nil {
			return err
		}
		if err := want(l.name+".b", l.conv.b, l.outs); err != nil {
			return err
		}
	}
	if err := want("embed", n.embed, n.c*pitch.Rows); err != nil {
		return err
	}
	return want("layout.w", n.layout, n.c*pitch.LayoutFeatures)
}
