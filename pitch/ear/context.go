package ear

import (
	"blowdraw/decode/parallel"
	"blowdraw/pitch"
)

// context is a layer that tells each moment how the harp sounds around it, so
// that a reed's partials can be held against those of the same and of other
// reeds nearby: an octave in tune has no partial of its own, and is heard as even
// partials that are too strong for one reed of this harp.
//
//	u = relu(keep(x)), g = sigmoid(gate(x))     at each row and step
//	m = sum(u*g) / (sum(g) + 1)                 over contextSpan steps to either side,
//	                                            for each row and for all rows together
//	x -> relu(x + back(m of the row, m of all rows))
type context struct {
	keep dense // [contextIn][c]
	gate dense // [1][c]
	back dense // [c][2*contextIn]: the row's, then that of all rows
}

// sums are the context's running sums. They are kept as integers, so that they
// do not depend on where windows begin.
type sums struct {
	width   int
	kept    *tensor // u*g, and g as the last channel: window k from column start(k) on
	gate    *tensor
	running [pitch.Rows][contextIn + 1]int64
	row     *tensor   // m of each row
	weight  []float32 // of all rows, and 1
	all     *tensor   // m of all rows, [contextIn][1]
}

// fixed is the number of parts of 1 in which running sums are counted.
const fixed = 1 << 20

// looked is how many steps a context takes in.
const looked = 2*contextSpan + 1

func newSums(width int) *sums {
	return &sums{
		width: width, kept: newTensor(contextIn+1, pitch.Rows, 0, (looked+2*width-1)/width*width),
		gate: newTensor(4, pitch.Rows, 0, width), weight: make([]float32, width),
		row: newTensor(contextIn+1, pitch.Rows, 0, width), all: newTensor(contextIn, 1, 0, width),
	}
}

// start is the first column of window k in kept, where windows go round.
func (s *sums) start(k int) int { return k * s.width % s.kept.width }

// context is the layer's part for window k; out's first new column is step.
func (s *stream) context(scratch []worker, x, out *tensor, k, step int) {
	lo, hi := s.span(step + contextSpan)
	parallel.On(s.workers, pitch.Rows, func(worker, r int) {
		src := scratch[worker].taps[:0]
		for c := range x.channels {
			src = append(src, x.from(c, r, x.past))
		}
		scratch[worker].taps = src
		s.gated(r, s.sums.start(k), src, lo, hi)
		s.sums.add(r, k)
	})
	s.sums.weigh()
	parallel.On(s.workers, contextIn, func(_, c int) { s.sums.meanOfAll(c) })
	lo, hi = s.span(step)
	parallel.On(s.workers, pitch.Rows, func(worker, r int) {
		s.sums.meanOfRow(r)
		src := scratch[worker].taps[:0]
		for c := range contextIn {
			src = append(src, s.sums.row.from(c, r, 0))
		}
		for c := range contextIn {
			src = append(src, s.sums.all.from(c, 0, 0))
		}
		scratch[worker].taps = src
		back := &s.net.context.back
		back.mix(out, r, x, 0, src, back.b, lo, hi, 0)
	})
	out.keep(lo, hi)
}

// gated enters the new columns [lo, hi) of a row of the window from column at on.
func (s *stream) gated(r, at int, src []*float32, lo, hi int) {
	n, sums := &s.net.context, s.sums
	kept := &tensor{sums.kept.channels, pitch.Rows, at, sums.kept.width - at, sums.kept.data}
	n.keep.mix(kept, r, nil, 0, src, n.keep.b, lo, hi, 0)
	n.gate.mix(sums.gate, r, nil, 0, src, n.gate.b, lo, hi, linear)
	gate := kept.row(contextIn, r)[at : at+s.width]
	clear(gate)
	for j, v := range sums.gate.row(0, r)[lo:hi] {
		gate[lo+j] = sigmoid(v)
	}
	for c := range contextIn {
		values := kept.row(c, r)[at : at+s.width]
		for j, v := range values {
			values[j] = v * gate[j]
		}
	}
}

// add moves the sums of a row on by window k.
func (s *sums) add(r, k int) {
	at := s.start(k)
	for c := range contextIn + 1 {
		ring, to := s.kept.row(c, r), s.row.row(c, r)
		sum := s.running[r][c]
		gone := (at - looked + s.kept.width) % s.kept.width
		for j := range to {
			sum += int64(ring[at+j]*fixed) - int64(ring[gone]*fixed)
			to[j] = float32(sum) / fixed
			if gone++; gone == s.kept.width {
				gone = 0
			}
		}
		s.running[r][c] = sum
	}
}

// meanOfAll is the mean of one channel over all rows.
func (s *sums) meanOfAll(c int) {
	to := s.all.row(c, 0)
	clear(to)
	for r := range pitch.Rows {
		for j, v := range s.row.row(c, r) {
			to[j] += v
		}
	}
	for j, weight := range s.weight {
		to[j] /= weight
	}
}

// weigh adds up the gates of all rows.
func (s *sums) weigh() {
	for j := range s.weight {
		s.weight[j] = 1
	}
	for r := range pitch.Rows {
		for j, v := range s.row.row(contextIn, r) {
			s.weight[j] += v
		}
	}
}

// meanOfRow divides a row's sums.
func (s *sums) meanOfRow(r int) {
	weight := s.row.row(contextIn, r)
	for c := range contextIn {
		values := s.row.row(c, r)
		for j, v := range values {
			values[j] = v / (weight[j] + 1)
		}
	}
}
