package ear

import "unsafe"

// Convolutions over three rows are done four rows at a time by Winograd's minimal
// filtering F(4, 3) along rows, with half the multiplications: six sums over sources
// that are mixed from the six rows around those four, each with kernels mixed from the
// three rows of the kernel, give the four rows (Lavin & Gray 2016, "Fast algorithms for
// convolutional neural networks", CVPR; points 0, 1, -1, 2, -2). Along time kernels
// are as they are.

const (
	tileRows = 4            // of the output
	tileIn   = tileRows + 2 // of the input, and sums
)

// tiled is a layer of full convolutions, [c][c][3 rows][3 steps]: w has for each of the
// six sums what dense has of its weights, over [c][3 steps] sources.
type tiled struct {
	w [tileIn]dense
	b []float32
}

// kernels mixes the rows of a kernel.
var kernels = [tileIn][3]float64{
	{1. / 4, 0, 0},
	{-1. / 6, -1. / 6, -1. / 6},
	{-1. / 6, 1. / 6, -1. / 6},
	{1. / 24, 1. / 12, 1. / 6},
	{1. / 24, -1. / 12, 1. / 6},
	{0, 0, 1},
}

// newTiled prepares the kernels of a convolution, [outs][in][3][3].
func newTiled(c conv) *tiled {
	t := &tiled{b: c.b}
	for j := range t.w {
		mixed := conv{make([]float32, len(c.w)/3), make([]float32, len(c.b))}
		for i := range mixed.w {
			from, step, sum := i/3*9, i%3, 0.0
			for row, k := range kernels[j] {
				sum += k * float64(c.w[from+3*row+step])
			}
			mixed.w[i] = float32(sum)
		}
		t.w[j] = pack(mixed, len(mixed.w)/len(c.b))
	}
	return t
}

// tile is what a worker needs for four rows.
type tile struct {
	in  []float32  // [tileIn][c][columns], mixed rows
	sum []float32  // [tileIn][c][block]
	src []*float32 // [c][3 steps], of one sum
}

func newTile(c, columns int) *tile {
	return &tile{
		in:  make([]float32, tileIn*c*columns),
		sum: make([]float32, tileIn*c*block),
		src: make([]*float32, 3*c),
	}
}

// mix computes columns [lo, hi) of the tile's rows of out: relu(x + kernel(x)), x from
// steps before on, where the kernel's steps are that far apart.
func (t *tiled) mix(s *tile, out, x *tensor, first, step, lo, hi int, zero []float32) {
	n := x.past + x.width
	for c := range x.channels {
		var rows [tileIn]*float32
		for k := range rows {
			rows[k] = &zero[0]
			if r := first - 1 + k; r >= 0 && r < x.rows {
				rows[k] = x.from(c, r, 0)
			}
		}
		spread(s.in[c*n:], x.channels*n, &rows, n)
	}
	for i := down(lo); i < hi; i += block {
		for j := range t.w {
			t.sums(s, j, n, step, i)
		}
		for o := range out.channels {
			var to, from [tileRows]*float32
			for k := range to {
				to[k], from[k] = out.from(o, first+k, out.past+i), x.from(o, first+k, step+i)
			}
			gather(&to, &from, s.sum[o*block:], out.channels*block, t.b[o])
		}
	}
}

// sums computes sum j of every output for a block of columns from i on.
func (t *tiled) sums(s *tile, j, n, step, i int) {
	d := &t.w[j]
	for c := range len(s.src) / 3 {
		row := s.in[(j*len(s.src)/3+c)*n:][i:n]
		for k := range 3 {
			s.src[3*c+k] = &row[k*step]
		}
	}
	var none, to [4]*float32
	for g := range d.outs / 4 {
		for o := range to {
			to[o] = &s.sum[(j*d.outs+4*g+o)*block]
		}
		mix4(&to, &none, s.src, d.w[4*g*d.sources:], d.b[4*g:], 0, block, linear)
	}
}

// spreadPlain is spread without vector instructions.
func spreadPlain(dst []float32, apart int, src *[tileIn]*float32, n int) {
	var x [tileIn][]float32
	for k := range x {
		x[k] = unsafe.Slice(src[k], n)
	}
	for i := range n {
		x0, x1, x2, x3, x4, x5 := x[0][i], x[1][i], x[2][i], x[3][i], x[4][i], x[5][i]
		a, b := x4-4*x2, x3-4*x1
		c, d := x4-x2, 2*(x3-x1)
		dst[i], dst[5*apart+i] = 4*x0-5*x2+x4, 4*x1-5*x3+x5
		dst[apart+i], dst[2*apart+i] = a+b, a-b
		dst[3*apart+i], dst[4*apart+i] = c+d, c-d
	}
}

// gatherPlain is gather without vector instructions.
func gatherPlain(dst, skip *[tileRows]*float32, sums []float32, apart int, bias float32) {
	var d, s [tileRows][]float32
	for k := range d {
		d[k], s[k] = unsafe.Slice(dst[k], block), unsafe.Slice(skip[k], block)
	}
	for i := range block {
		even, odd := sums[apart+i]+sums[2*apart+i], sums[apart+i]-sums[2*apart+i]
		wide, turn := sums[3*apart+i]+sums[4*apart+i], sums[3*apart+i]-sums[4*apart+i]
		d[0][i] = max(0, s[0][i]+bias+sums[i]+even+wide)
		d[1][i] = max(0, s[1][i]+bias+odd+2*turn)
		d[2][i] = max(0, s[2][i]+bias+even+4*wide)
		d[3][i] = max(0, s[3][i]+bias+odd+8*turn+sums[5*apart+i])
	}
}
