package ear

import (
	"math"

	"blowdraw/pitch"
)

// network is the reed model, ready to run. Activations are [channel][row][step].
//
//	input     16 channels x 120 bins, stride frames a step
//	conv1     7 bins x 4 (3) frames, three bins and stride frames a step,
//	          plus a learned value and the layout's features per row
//	trunk     residual layers: six 3 x 3 convolutions that reach 1, 1, 2, 4, 1, 1
//	          steps; depth-wise ones along frequency (25 rows) after the second (dwf)
//	          and the fifth (dwg), along time (dwt, 15 steps) after the third, and
//	          along every eighth step (dwl, 15 taps) after the fourth
//	context   after dwt: means over 172 steps to either side, see context.go
//	row       per row: sounding and attack of each frame
//	g1 g2 g3  over all rows: breath, count, event and corrections to row
type network struct {
	c, stride  int
	conv1      dense
	embed      []float32 // [c][Rows]
	layout     []float32 // [c][LayoutFeatures]
	trunk      []residual
	context    context // its layer of the trunk
	row        dense
	g1, g2, g3 dense
}

const (
	freqTaps    = 7
	dwfTaps     = 25
	dwtTaps     = 15
	dwlTaps     = 15
	dwlStep     = 8   // steps between the taps of dwl
	contextIn   = 32  // channels kept per row for the context
	contextSpan = 172 // steps that the context reaches to either side, 4 s at stride 2
	globalIn    = 12  // channels kept per row for the head over all rows
	globalWide  = pitch.WholeWidth
	perFrame    = 3 + 4 + 1 + 2*pitch.Rows // outputs of g3 for each frame
)

// linear is the least value of layers without a rectifier.
var linear = float32(math.Inf(-1))

// residual is a layer x -> relu(x + kernel(x)).
type residual struct {
	full     *tiled // [c][c][3 rows][3 steps], or
	own      conv   // each channel by itself with taps that lie
	taps     int
	rowStep  int
	timeStep int
	around   bool // or the context
}

// reach is how many steps on either side a value depends on.
func (l *residual) reach() int {
	switch {
	case l.around:
		return contextSpan
	case l.taps > 0:
		return l.taps / 2 * l.timeStep
	}
	return l.timeStep
}

// past is how many steps before the newest it needs of its input.
func (l *residual) past() int {
	if l.around { // it keeps sums of what it looks back on
		return contextSpan
	}
	return 2 * l.reach()
}

// dense is a layer whose outputs, a multiple of four, each weigh all sources:
// w holds [outs/4][sources][4].
type dense struct {
	w, b          []float32
	outs, sources int
}

// pack brings [outs][sources] into dense's order, with zeros for missing outputs.
func pack(c conv, sources int) dense {
	outs := (len(c.b) + 3) &^ 3
	d := dense{make([]float32, outs*sources), make([]float32, outs), outs, sources}
	copy(d.b, c.b)
	for i, v := range c.w {
		o, k := i/sources, i%sources
		d.w[(o/4*sources+k)*4+o%4] = v
	}
	return d
}

func newNetwork(w *weights) *network {
	full := func(c conv, dilation int) residual {
		return residual{full: newTiled(c), timeStep: dilation}
	}
	n := &network{
		c: w.c, stride: w.stride, embed: w.embed, layout: w.layout,
		conv1: pack(w.conv1, inChannels*freqTaps*timeTaps(w.stride)),
		trunk: []residual{
			full(w.res[0], 1), full(w.res[1], 1),
			{own: w.dwf, taps: dwfTaps, rowStep: 1},
			full(w.res[2], 2),
			{own: w.dwt, taps: dwtTaps, timeStep: 1},
			{around: true},
			full(w.res[3], 4),
			{own: w.dwl, taps: dwlTaps, timeStep: dwlStep},
			full(w.res[4], 1),
			{own: w.dwg, taps: dwfTaps, rowStep: 1},
			full(w.res[5], 1),
		},
		context: context{pack(w.keep, w.c), pack(w.gate, w.c), pack(w.back, 2*contextIn)},
		row:     pack(w.row, w.c), g1: pack(w.g1, w.c),
		g2: pack(w.g2, pitch.Rows*globalIn*3), g3: pack(w.g3, globalWide),
	}
	return n
}

// timeTaps is the number of frames that conv1 takes in.
func timeTaps(stride int) int {
	if stride == 2 {
		return 4
	}
	return 3
}

// lag is how many steps of input beyond a step its outputs depend on.
func (n *network) lag() int {
	steps := 1 + 1 // of conv1 and g2
	for i := range n.trunk {
		steps += n.trunk[i].reach()
	}
	return steps
}

// biases of conv1 at each row, [Rows][c], for a layout.
func (n *network) biases(layout *[pitch.LayoutFeatures][pitch.Rows]float32) [pitch.Rows][]float32 {
	var out [pitch.Rows][]float32
	for r := range out {
		out[r] = make([]float32, n.c)
		for c := range out[r] {
			out[r][c] = n.conv1.b[c] + n.embed[c*pitch.Rows+r]
			for l := range pitch.LayoutFeatures {
				out[r][c] += n.layout[c*pitch.LayoutFeatures+l] * layout[l][r]
			}
		}
	}
	return out
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
