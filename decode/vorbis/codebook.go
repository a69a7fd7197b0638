package vorbis

import (
	"math"
	"math/bits"
	"sort"
)

// codebook is a prefix code whose entries may stand for vectors (3).
type codebook struct {
	dims    int
	entries int
	fast    []int32 // by the next fastBits bits: entry<<8 | length, or -1
	long    []code  // longer codes, by ascending word
	vectors []float32
	lookup  bool // entries stand for vectors
}

// code is a code word, left-aligned, its first bit uppermost.
type code struct {
	word   uint32
	length uint8
	entry  int32
}

const (
	fastBits = 10
	// maxTable bounds the entries and values of all codebooks of a stream
	// together, so that a few bytes of header cannot ask for gigabytes. Encoders
	// (oggenc 1.4 from -1 to 10, 1 to 6 channels, and ffmpeg's own) need 13 000
	// to 105 000.
	maxTable = 1 << 20
)

// parse reads a codebook from the setup header (3.2.1).
func (c *codebook) parse(r *bitReader, budget *int) error {
	if r.read(24) != 0x564342 {
		return damaged("no codebook")
	}
	c.dims = int(r.read(16))
	c.entries = int(r.read(24))
	if *budget -= c.entries; *budget < 0 {
		return damaged("codebooks too large")
	}
	lengths := make([]uint8, c.entries)
	if r.read(1) == 1 { // ordered
		length := uint8(r.read(5)) + 1
		for i := 0; i < c.entries; length++ {
			n := int(r.read(ilog(c.entries - i)))
			if length > 32 || n > c.entries-i || r.ended() {
				return damaged("code lengths")
			}
			for range n {
				lengths[i] = length
				i++
			}
		}
	} else {
		sparse := r.read(1) == 1
		for i := range lengths {
			if !sparse || r.read(1) == 1 {
				lengths[i] = uint8(r.read(5)) + 1
			}
			if r.ended() {
				return damaged("cut off")
			}
		}
	}
	if err := c.assign(lengths); err != nil {
		return err
	}
	return c.parseVectors(r, budget)
}

// assign gives each entry the lowest code word of its length that is still
// free (3.2.1, "Huffman decision tree representation").
func (c *codebook) assign(lengths []uint8) error {
	var free [33]uint32 // the lowest free word of each length, 0: none
	used, long := 0, 0
	for _, n := range lengths {
		if n > 0 {
			used++
		}
		if n > fastBits {
			long++
		}
	}
	codes := make([]code, 0, max(used, 2))
	for i, n := range lengths {
		if n == 0 {
			continue
		}
		if len(codes) == 0 {
			codes = append(codes, code{0, n, int32(i)})
			for k := 1; k <= int(n); k++ {
				free[k] = 1 << (32 - k)
			}
			continue
		}
		k := int(n)
		for k > 0 && free[k] == 0 {
			k--
		}
		if k == 0 {
			return damaged("too many code words")
		}
		word := free[k]
		free[k] = 0
		for j := int(n); j > k; j-- {
			free[j] = word + 1<<(32-j)
		}
		codes = append(codes, code{word, n, int32(i)})
	}
	if len(codes) == 1 { // a single word of one bit, either bit (3.2.1)
		codes = append(codes, code{1 << 31, codes[0].length, codes[0].entry})
		codes[0].length, codes[1].length = 1, 1
		free = [33]uint32{}
	}
	for _, f := range free {
		if f != 0 {
			return damaged("too few code words")
		}
	}
	c.fast = make([]int32, 1<<fastBits)
	for i := range c.fast {
		c.fast[i] = -1
	}
	c.long = make([]code, 0, long)
	for _, w := range codes {
		if w.length > fastBits {
			c.long = append(c.long, w)
			continue
		}
		for i := bits.Reverse32(w.word); i < 1<<fastBits; i += 1 << w.length {
			c.fast[i] = w.entry<<8 | int32(w.length)
		}
	}
	sort.Slice(c.long, func(i, j int) bool { return c.long[i].word < c.long[j].word })
	return nil
}

// parseVectors reads what the entries stand for (3.2.1, 3.3).
func (c *codebook) parseVectors(r *bitReader, budget *int) error {
	kind := r.read(4)
	if kind == 0 {
		return nil
	}
	if kind > 2 || c.dims == 0 {
		return damaged("lookup type %d of %d dimensions", kind, c.dims)
	}
	low, step := unpackFloat(r.read(32)), unpackFloat(r.read(32))
	width := int(r.read(4)) + 1
	sequence := r.read(1) == 1
	n := c.entries * c.dims
	if *budget -= n; *budget < 0 {
		return damaged("codebooks too large")
	}
	values := n
	if kind == 1 {
		values = lookup1Values(c.entries, c.dims)
	}
	if values*width > r.end-r.pos {
		return damaged("cut off")
	}
	multiplicands := make([]float64, values)
	for i := range multiplicands {
		multiplicands[i] = float64(r.read(width))
	}
	c.lookup = true
	c.vectors = make([]float32, n)
	for e := range c.entries {
		last, divisor := 0.0, 1
		for d := range c.dims {
			i := e*c.dims + d
			if kind == 1 {
				i = e / divisor % values
				divisor *= values
			}
			v := multiplicands[i]*step + low + last
			if sequence {
				last = v
			}
			c.vectors[e*c.dims+d] = float32(v)
		}
	}
	return nil
}

// unpackFloat reads the format's own floating point numbers (9.2.2).
func unpackFloat(x uint32) float64 {
	mantissa := float64(x & 0x1FFFFF)
	if x&0x80000000 != 0 {
		mantissa = -mantissa
	}
	return math.Ldexp(mantissa, int(x>>21&0x3FF)-788)
}

// lookup1Values is the greatest r with r^dims <= entries (9.2.3).
func lookup1Values(entries, dims int) int {
	fits := func(r int) bool {
		p := 1
		for range dims {
			if p *= r; p > entries {
				return false
			}
			if r <= 1 {
				return true
			}
		}
		return true
	}
	r := 0
	for fits(r + 1) {
		r++
	}
	return r
}

// decode reads one entry, -1 after the end of the packet or for a code that is
// not in the book.
func (c *codebook) decode(r *bitReader) int {
	v := r.peek()
	if f := c.fast[v&(1<<fastBits-1)]; f >= 0 {
		r.pos += int(f & 0xFF)
		if r.pos > r.end {
			return -1
		}
		return int(f >> 8)
	}
	v = bits.Reverse32(v)
	lo, hi := 0, len(c.long)
	for lo < hi {
		mid := (lo + hi) / 2
		if c.long[mid].word <= v {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	if lo == 0 {
		r.pos = r.end + 1
		return -1
	}
	w := c.long[lo-1]
	r.pos += int(w.length)
	if r.pos > r.end || (v^w.word)>>(32-w.length) != 0 {
		return -1
	}
	return int(w.entry)
}

// vector reads one entry's vector, nil where decode returns -1.
func (c *codebook) vector(r *bitReader) []float32 {
	e := c.decode(r)
	if e < 0 {
		return nil
	}
	return c.vectors[e*c.dims : (e+1)*c.dims]
}
