package ear

import (
	"blowdraw/decode/parallel"
	"blowdraw/pitch"
)

// stream runs a network over a recording window by window. Each layer keeps as
// much of what it made before as the next one reaches back, so nothing is
// computed twice, and lags behind its input by as much as it reaches ahead.
// Beyond the ends of the recording every layer is zero.
type stream struct {
	net     *network
	bias    [pitch.Rows][]float32 // of conv1
	total   int                   // steps of the recording
	width   int                   // steps of a window, a multiple of block
	workers int                   // of a stage

	in    []*tensor // in[p] has frames p, p+stride, …, one a step
	trunk []*tensor // what conv1 and each layer of the trunk made
	sums  *sums     // of the context
	kept  *tensor   // by g1
	wide  *tensor   // by g2, [globalWide][1]
	whole *tensor   // by g3, [stride*perFrame][1]
	row   *tensor

	zero []float32 // stands for rows beyond the axis
}

// worker is the scratch of one worker of a stage.
type worker struct {
	taps []*float32
	tile *tile
}

// atOnce is how many windows are under way at once where there are processors for it.
const atOnce = 3

// workersOf a stage, while stages run side by side.
func workersOf(processors int) int { return (processors + 1) / 2 }

func newStream(n *network, layout *[pitch.LayoutFeatures][pitch.Rows]float32, total, width int) *stream {
	s := &stream{
		net:     n,
		bias:    n.biases(layout),
		total:   total,
		width:   width,
		workers: workersOf(parallel.Workers()),
	}
	for range n.stride {
		s.in = append(s.in, newTensor(inChannels, inBins, 2, width))
	}
	longest := 2
	for i := range n.trunk {
		past := n.trunk[i].past()
		longest = max(longest, past)
		s.trunk = append(s.trunk, newTensor(n.c, pitch.Rows, past, width))
	}
	s.trunk = append(s.trunk, newTensor(n.c, pitch.Rows, 2, width))
	s.sums = newSums(width)
	s.kept = newTensor(globalIn, pitch.Rows, 2, width)
	s.wide = newTensor(globalWide, 1, 0, width)
	s.whole = newTensor(n.g3.outs, 1, 0, width)
	s.row = newTensor(n.row.outs, pitch.Rows, 0, width)
	s.zero = make([]float32, longest+width)
	return s
}

// windows is how many it takes until all outputs are there.
func (s *stream) windows() int { return (s.total + s.net.lag() + s.width - 1) / s.width }

// span returns which new columns of a tensor lie within the recording if the
// first is at the given step.
func (s *stream) span(first int) (lo, hi int) {
	lo = min(max(-first, 0), s.width)
	return lo, max(lo, min(s.width, s.total-first))
}

// stages of a window: the convolution of the input and the layers of the trunk, for
// [pipeline]. The trunk's output begins so many steps before the input.
func (s *stream) stages() (stages []func(k int), lag int) {
	scratch := s.scratch()
	stages = append(stages, func(k int) { s.first(scratch, k*s.width-1) })
	lag = 1
	for i := range s.net.trunk {
		l, x, out := &s.net.trunk[i], s.trunk[i], s.trunk[i+1]
		lag += l.reach()
		scratch, lag := s.scratch(), lag
		stages = append(stages, func(k int) {
			out.slide()
			switch step := k*s.width - lag; {
			case l.around:
				s.context(scratch, x, out, k, step)
			case l.taps > 0:
				s.depthwise(l, x, out, step)
			default:
				s.residual(scratch, l, x, out, step)
			}
		})
	}
	return stages, lag
}

// scratch of a stage's workers.
func (s *stream) scratch() []worker { return make([]worker, s.workers) }

// first is the convolution of the input.
func (s *stream) first(scratch []worker, step int) {
	n, out := s.net, s.trunk[0]
	out.slide()
	lo, hi := s.span(step)
	parallel.On(s.workers, pitch.Rows, func(worker, r int) {
		src := scratch[worker].taps[:0]
		for ch := range inChannels {
			for k := range freqTaps {
				bin := binsPerRow*r - 2 + k
				for frame := -1; frame < timeTaps(n.stride)-1; frame++ { // from the step's first
					phase := (frame + n.stride) % n.stride
					shift := (frame - phase) / n.stride
					if bin < 0 || bin >= inBins {
						src = append(src, &s.zero[0])
					} else {
						src = append(src, s.in[phase].from(ch, bin, 1+shift))
					}
				}
			}
		}
		scratch[worker].taps = src
		n.conv1.mix(out, r, nil, 0, src, s.bias[r], lo, hi, 0)
	})
	out.keep(lo, hi)
}

// residual is a layer of full convolutions.
func (s *stream) residual(scratch []worker, l *residual, x, out *tensor, step int) {
	lo, hi := s.span(step)
	parallel.On(s.workers, x.rows/tileRows, func(worker, i int) {
		w := &scratch[worker]
		if w.tile == nil {
			w.tile = newTile(x.channels, x.past+x.width)
		}
		l.full.mix(w.tile, out, x, i*tileRows, l.timeStep, lo, hi, s.zero)
	})
	out.keep(lo, hi)
}

// depthwise is a layer that convolves every channel by itself.
func (s *stream) depthwise(l *residual, x, out *tensor, step int) {
	lo, hi := s.span(step)
	middle := l.reach()
	parallel.On(s.workers, x.rows, func(_, r int) {
		first, end, apart := 0, l.taps, l.timeStep // taps within the axis
		if l.rowStep > 0 {
			first, end, apart = max(0, l.taps/2-r), min(l.taps, x.rows-r+l.taps/2), x.past+x.width
		}
		for c := range x.channels {
			src := x.from(c, r+(first-l.taps/2)*l.rowStep, first*l.timeStep)
			w := l.own.w[c*l.taps:][first:end]
			mix1(out.from(c, r, out.past), x.from(c, r, middle), src, apart, w, l.own.b[c], down(lo), up(hi), 0)
		}
	})
	out.keep(lo, hi)
}

// heads computes the logits from the trunk's output x, whose first new column
// is at step; theirs is one step earlier. Those of span(step-1) are valid.
func (s *stream) heads(scratch []worker, step int) {
	n, x := s.net, s.trunk[len(s.trunk)-1]
	s.kept.slide()
	ahead, to := s.span(step)
	lo, hi := s.span(step - 1)
	parallel.On(s.workers, pitch.Rows, func(worker, r int) {
		src := scratch[worker].taps[:0]
		for c := range x.channels {
			src = append(src, x.from(c, r, 2))
		}
		n.g1.mix(s.kept, r, nil, 0, src, n.g1.b, ahead, to, 0)
		for c := range x.channels {
			src[c] = x.from(c, r, 1)
		}
		n.row.mix(s.row, r, nil, 0, src, n.row.b, lo, hi, linear)
		scratch[worker].taps = src
	})
	s.kept.keep(ahead, to)
	var src []*float32
	for r := range pitch.Rows {
		for c := range globalIn {
			for k := range 3 {
				src = append(src, s.kept.from(c, r, k))
			}
		}
	}
	parallel.On(s.workers, n.g2.outs/4, func(_, g int) {
		n.g2.group(g, s.wide, 0, nil, 0, src, n.g2.b, lo, hi, 0)
	})
	src = src[:0]
	for c := range globalWide {
		src = append(src, s.wide.from(c, 0, 0))
	}
	n.g3.mix(s.whole, 0, nil, 0, src, n.g3.b, lo, hi, linear)
}

// mix computes the new columns [lo, hi) of row r of out. Skip, if any, is added
// from its column shift on.
func (d *dense) mix(
	out *tensor,
	r int,
	skip *tensor,
	shift int,
	src []*float32,
	bias []float32,
	lo, hi int,
	low float32,
) {
	for i := down(lo); i < hi; i += block { // a block of sources stays in the fastest cache
		for g := range d.outs / 4 {
			d.group(g, out, r, skip, shift, src, bias, i, i+block, low)
		}
	}
}

// group is mix of outputs 4g to 4g+3.
func (d *dense) group(
	g int,
	out *tensor,
	r int,
	skip *tensor,
	shift int,
	src []*float32,
	bias []float32,
	lo, hi int,
	low float32,
) {
	var to, from [4]*float32
	for o := range 4 {
		to[o] = out.from(4*g+o, r, out.past)
		if skip != nil {
			from[o] = skip.from(4*g+o, r, shift)
		}
	}
	mix4(&to, &from, src, d.w[4*g*d.sources:], bias[4*g:], down(lo), up(hi), low)
}

// down and up round to whole blocks.
func down(i int) int { return i / block * block }
func up(i int) int   { return (i + block - 1) / block * block }
