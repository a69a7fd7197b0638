package ear

import (
	"runtime"
	"sync"
)

// margin is the number of zeros before and after each row's values along time,
// so that convolutions need no case at the edges. It exceeds every reach of
// the network's kernels and keeps rows a multiple of eight long.
const margin = 56

// tensor holds [channels][rows][time] values, time contiguous, with margin
// zeros on both sides of each row.
type tensor struct {
	channels, rows, t int
	step              int // values from one row to the next
	data              []float32
}

func newTensor(channels, rows, t int) *tensor {
	step := (t+7)&^7 + 2*margin
	return &tensor{channels, rows, t, step, make([]float32, channels*rows*step)}
}

// row returns the values of one row, padded to a multiple of eight.
func (x *tensor) row(c, r int) []float32 {
	i := (c*x.rows+r)*x.step + margin
	return x.data[i : i+x.step-2*margin]
}

// from returns a pointer to the row's value at time shift, which may be up to
// margin before the first.
func (x *tensor) from(c, r, shift int) *float32 {
	return &x.data[(c*x.rows+r)*x.step+margin+shift]
}

// finish applies the rectifier and clears what lies past the last value.
func (x *tensor) finish(row []float32) {
	for i, v := range row[:x.t] {
		row[i] = max(v, 0)
	}
	clear(row[x.t:])
}

// taps lists source rows to be summed with weights, in groups of eight.
type taps []*float32

func padTaps(p taps) taps {
	for len(p)%8 != 0 {
		p = append(p, p[len(p)-1])
	}
	return p
}

// sum adds the weighted sources to dst, n values each; missing weights are 0.
func (p taps) sum(dst *float32, w []float32, n int) {
	for k := 0; k < len(p); k += 8 {
		var g [8]float32
		copy(g[:], w[k:min(k+8, len(w))])
		accumulate8(dst, (*[8]*float32)(p[k:k+8]), &g, n)
	}
}

// parallel runs f for every i in [0, n) on all processors.
func parallel(n int, f func(i int)) {
	workers := min(runtime.GOMAXPROCS(0), n)
	if workers <= 1 {
		for i := range n {
			f(i)
		}
		return
	}
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() {
			for i := w; i < n; i += workers {
				f(i)
			}
		})
	}
	wg.Wait()
}
