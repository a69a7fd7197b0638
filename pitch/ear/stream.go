package ear

import (
	"runtime"

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
	at      int                   // step of the input's first new column
	width   int                   // steps of a window, a multiple of block
	workers int

	in    []*tensor // in[p] has frames p, p+stride, …, one a step
	trunk []*tensor // what conv1 and each layer of the trunk made
	sums  *sums     // of the context
	kept  *tensor   // by g1
	wide  *tensor   // by g2, [globalWide][1]
	whole *tensor   // by g3, [stride*perFrame][1]
	row   *tensor

	zero []float32    // stands for rows beyond the axis
	taps [][]*float32 // scratch of each worker
}

func newStream(n *network, layout *[pitch.LayoutFeatures][pitch.Rows]float32, total, width int) *stream {
	s := &stream{net: n, bias: n.biases(layout), total: total, at: -width, width: width, workers: runtime.GOMAXPROCS(0)}
	for range n.stride {
		s.in = append(s.in, newTensor(inChannels, inBins, 2, width))
	}
	longest := 2
	for i := range n.trunk {
		past := 2 * n.trunk[i].reach()
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
	s.taps = make([][]*float32, s.workers)
	return s
}

// slide makes room for the next window: its input belongs into the new columns
// of s.in, from step s.at on.
func (s *stream) slide() {
	s.at += s.width
	for _, x := range s.in {
		x.slide()
	}
	parallel(s.workers, len(s.trunk), func(_, i int) { s.trunk[i].slide() })
	s.sums.kept.slide()
	s.kept.slide()
}

// span returns which new columns of a tensor lie within the recording if the
// first is at the given step.
func (s *stream) span(first int) (lo, hi int) {
	lo = min(max(-first, 0), s.width)
	return lo, max(lo, min(s.width, s.total-first))
}

// forward computes the outputs of a window. Their first column is the step
// that it returns; those of span(step) are valid.
func (s *stream) forward() (step int) {
	step = s.at - 1
	s.first(step)
	for i := range s.net.trunk {
		l := &s.net.trunk[i]
		step -= l.reach()
		switch {
		case l.around:
			s.context(s.trunk[i], s.trunk[i+1], step)
		case l.taps > 0:
			s.depthwise(l, s.trunk[i], s.trunk[i+1], step)
		default:
			s.residual(l, s.trunk[i], s.trunk[i+1], step)
		}
	}
	s.heads(s.trunk[len(s.trunk)-1], step)
	return step - 1
}

// first is the convolution of the input.
func (s *stream) first(step int) {
	n, out := s.net, s.trunk[0]
	lo, hi := s.span(step)
	parallel(s.workers, pitch.Rows, func(worker, r int) {
		src := s.taps[worker][:0]
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
		s.taps[worker] = src
		n.conv1.mix(out, r, nil, 0, src, s.bias[r], lo, hi, 0)
	})
	out.keep(lo, hi)
}

// residual is a layer of full convolutions.
func (s *stream) residual(l *residual, x, out *tensor, step int) {
	lo, hi := s.span(step)
	d := l.timeStep
	parallel(s.workers, x.rows, func(worker, r int) {
		src := s.taps[worker][:0]
		for c := range x.channels {
			for from := r - 1; from <= r+1; from++ {
				if from < 0 || from >= x.rows {
					src = append(src, &s.zero[0], &s.zero[0], &s.zero[0])
				} else {
					src = append(src, x.from(c, from, 0), x.from(c, from, d), x.from(c, from, 2*d))
				}
			}
		}
		s.taps[worker] = src
		l.full.mix(out, r, x, d, src, l.full.b, lo, hi, 0)
	})
	out.keep(lo, hi)
}

// depthwise is a layer that convolves every channel by itself.
func (s *stream) depthwise(l *residual, x, out *tensor, step int) {
	lo, hi := s.span(step)
	middle := l.reach()
	parallel(s.workers, x.rows, func(_, r int) {
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
// is at step; theirs is one step earlier.
func (s *stream) heads(x *tensor, step int) {
	n := s.net
	ahead, to := s.span(step)
	lo, hi := s.span(step - 1)
	parallel(s.workers, pitch.Rows, func(worker, r int) {
		src := s.taps[worker][:0]
		for c := range x.channels {
			src = append(src, x.from(c, r, 2))
		}
		n.g1.mix(s.kept, r, nil, 0, src, n.g1.b, ahead, to, 0)
		for c := range x.channels {
			src[c] = x.from(c, r, 1)
		}
		n.row.mix(s.row, r, nil, 0, src, n.row.b, lo, hi, linear)
		s.taps[worker] = src
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
	parallel(s.workers, n.g2.outs/4, func(_, g int) {
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
func (d *dense) mix(out *tensor, r int, skip *tensor, shift int, src []*float32, bias []float32, lo, hi int, low float32) {
	for i := down(lo); i < hi; i += block { // a block of sources stays in the fastest cache
		for g := range d.outs / 4 {
			d.group(g, out, r, skip, shift, src, bias, i, i+block, low)
		}
	}
}

// group is mix of outputs 4g to 4g+3.
func (d *dense) group(g int, out *tensor, r int, skip *tensor, shift int, src []*float32, bias []float32, lo, hi int, low float32) {
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
