package ear

// tensor is a window along time on [channels][rows] values, time contiguous:
// the last past steps of the window before it, then width new steps.
type tensor struct {
	channels, rows int
	past, width    int
	data           []float32
}

func newTensor(channels, rows, past, width int) *tensor {
	return &tensor{channels, rows, past, width, make([]float32, channels*rows*(past+width))}
}

// row returns one row's past and new values.
func (x *tensor) row(c, r int) []float32 {
	step := x.past + x.width
	i := (c*x.rows + r) * step
	return x.data[i : i+step : i+step]
}

// from returns a pointer to a row's value in column i, counted from the oldest.
func (x *tensor) from(c, r, i int) *float32 { return &x.row(c, r)[i] }

// slide moves the window by its width.
func (x *tensor) slide() {
	for i := range x.channels * x.rows {
		row := x.row(0, i)
		copy(row, row[x.width:])
	}
}

// keep clears all but the new steps [lo, hi).
func (x *tensor) keep(lo, hi int) {
	if lo == 0 && hi == x.width {
		return
	}
	for i := range x.channels * x.rows {
		row := x.row(0, i)[x.past:]
		clear(row[:lo])
		clear(row[hi:])
	}
}
