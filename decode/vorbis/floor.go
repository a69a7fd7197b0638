package vorbis

import (
	"math"
	"sort"
)

// floor1 is a curve of line segments on a logarithmic scale (7).
type floor1 struct {
	classes    []floorClass
	partitions []int // class of each
	multiplier int
	x          []int // positions of the points
	order      []int // indices of x by ascending position
	low, high  []int // neighbours of each point among those before it
}

type floorClass struct {
	dims, subclasses, master int
	books                    []int // -1: none
}

const maxFloorPoints = 65 // 7.2.2

// parse reads the setup (7.2.2).
func (f *floor1) parse(r *bitReader, books []codebook) error {
	f.partitions = make([]int, r.read(5))
	most := -1
	for i := range f.partitions {
		f.partitions[i] = int(r.read(4))
		most = max(most, f.partitions[i])
	}
	f.classes = make([]floorClass, most+1)
	for i := range f.classes {
		c := &f.classes[i]
		c.dims = int(r.read(3)) + 1
		c.subclasses = int(r.read(2))
		if c.subclasses > 0 {
			if c.master = int(r.read(8)); c.master >= len(books) {
				return damaged("codebook %d", c.master)
			}
		}
		c.books = make([]int, 1<<c.subclasses)
		for j := range c.books {
			if c.books[j] = int(r.read(8)) - 1; c.books[j] >= len(books) {
				return damaged("codebook %d", c.books[j])
			}
		}
	}
	f.multiplier = int(r.read(2)) + 1
	width := int(r.read(4))
	f.x = []int{0, 1 << width}
	for _, p := range f.partitions {
		for range f.classes[p].dims {
			f.x = append(f.x, int(r.read(width)))
		}
	}
	if r.ended() || len(f.x) > maxFloorPoints {
		return damaged("%d points", len(f.x))
	}
	return f.arrange()
}

// arrange sorts the points and finds each one's neighbours (9.2.4, 9.2.5).
func (f *floor1) arrange() error {
	n := len(f.x)
	f.order, f.low, f.high = make([]int, n), make([]int, n), make([]int, n)
	for i := range f.order {
		f.order[i] = i
	}
	sort.Slice(f.order, func(a, b int) bool { return f.x[f.order[a]] < f.x[f.order[b]] })
	for i := 1; i < n; i++ {
		if f.x[f.order[i]] == f.x[f.order[i-1]] {
			return damaged("two points at %d", f.x[f.order[i]])
		}
	}
	for i := 2; i < n; i++ {
		f.low[i], f.high[i] = 0, 1
		for j := range i {
			if f.x[j] < f.x[i] && f.x[j] > f.x[f.low[i]] {
				f.low[i] = j
			}
			if f.x[j] > f.x[i] && f.x[j] < f.x[f.high[i]] {
				f.high[i] = j
			}
		}
	}
	return nil
}

var floorRanges = [4]int{256, 128, 86, 64} // 7.2.3

// decode reads the heights of the points in a packet (7.2.3). It returns false
// where the channel is silent in this block.
func (f *floor1) decode(r *bitReader, books []codebook, y *[maxFloorPoints]int) bool {
	if r.read(1) == 0 {
		return false
	}
	width := ilog(floorRanges[f.multiplier-1] - 1)
	y[0], y[1] = int(r.read(width)), int(r.read(width))
	at := 2
	for _, p := range f.partitions {
		c := &f.classes[p]
		value := 0
		if c.subclasses > 0 {
			if value = books[c.master].decode(r); value < 0 {
				return false
			}
		}
		for range c.dims {
			y[at] = 0
			if b := c.books[value&(1<<c.subclasses-1)]; b >= 0 {
				if y[at] = books[b].decode(r); y[at] < 0 {
					return false
				}
			}
			value >>= c.subclasses
			at++
		}
	}
	return !r.ended()
}

// curve multiplies the spectrum by the floor of the decoded heights (7.2.4).
func (f *floor1) curve(y *[maxFloorPoints]int, line, spectrum []float32) {
	var used [maxFloorPoints]bool
	used[0], used[1] = true, true
	limit := floorRanges[f.multiplier-1]
	for i := 2; i < len(f.x); i++ {
		lo, hi := f.low[i], f.high[i]
		predicted := renderPoint(f.x[lo], y[lo], f.x[hi], y[hi], f.x[i])
		v := y[i]
		if v == 0 {
			y[i] = predicted
			continue
		}
		used[lo], used[hi], used[i] = true, true, true
		above, below := limit-predicted, predicted
		switch {
		case v >= 2*min(above, below) && above > below:
			y[i] = v - below + predicted
		case v >= 2*min(above, below):
			y[i] = predicted - v + above - 1
		case v&1 == 1:
			y[i] = predicted - (v+1)/2
		default:
			y[i] = predicted + v/2
		}
	}
	x0, y0 := 0, y[f.order[0]]*f.multiplier
	for _, i := range f.order[1:] {
		if !used[i] {
			continue
		}
		x1, y1 := f.x[i], y[i]*f.multiplier
		renderLine(x0, y0, x1, y1, line, spectrum)
		x0, y0 = x1, y1
	}
	if x0 < len(spectrum) {
		renderLine(x0, y0, len(spectrum), y0, line, spectrum)
	}
}

// renderPoint is the height at x on the line between two points (9.2.6).
func renderPoint(x0, y0, x1, y1, x int) int {
	dy := y1 - y0
	off := abs(dy) * (x - x0) / (x1 - x0)
	if dy < 0 {
		return y0 - off
	}
	return y0 + off
}

// renderLine multiplies v by the line from (x0, y0) up to x1, exclusive, in
// whole-number steps (9.2.7).
func renderLine(x0, y0, x1, y1 int, line, v []float32) {
	dy, adx := y1-y0, x1-x0
	base := dy / adx
	step := base + 1
	if dy < 0 {
		step = base - 1
	}
	ady := abs(dy) - abs(base)*adx
	y, err := y0, 0
	for x := x0; x < min(x1, len(v)); x++ {
		v[x] *= line[min(max(y, 0), 255)]
		if err += ady; err >= adx {
			err -= adx
			y += step
		} else {
			y += base
		}
	}
}

func abs(x int) int {
	if x < 0 {
		return -x
	}
	return x
}

// inverseDB is the table of floor values (10.1). Its 256 printed numbers rise
// in equal steps of 35/64 dB to 1; they are computed here.
func inverseDB() []float32 {
	t := make([]float32, 256)
	for i := range t {
		t[i] = float32(math.Pow(10, float64(i-255)*35/64/20))
	}
	return t
}
