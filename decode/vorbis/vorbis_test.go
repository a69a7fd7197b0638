package vorbis

import (
	"errors"
	"math"
	"testing"
)

// The example of 3.2.1, "Huffman decision tree representation": lengths and the
// code words that follow from them.
func TestCodeWordsOfSpecification(t *testing.T) {
	lengths := []uint8{2, 4, 4, 4, 4, 2, 3, 3}
	words := []string{"00", "0100", "0101", "0110", "0111", "10", "110", "111"}
	c := codebook{entries: len(lengths)}
	if err := c.assign(lengths); err != nil {
		t.Fatal(err)
	}
	for entry, w := range words {
		if got := c.decode(newBitReader(packBits(w))); got != entry {
			t.Errorf("%s decodes to %d, want %d", w, got, entry)
		}
	}
}

// packBits packs a string of bits, first bit lowest (2.1).
func packBits(s string) []byte {
	b := make([]byte, (len(s)+7)/8)
	for i, c := range s {
		if c == '1' {
			b[i/8] |= 1 << (i % 8)
		}
	}
	return b
}

// Codes longer than the fast table: a comb of lengths 1, 2, 3, … 20, 20.
func TestLongCodeWords(t *testing.T) {
	var lengths []uint8
	for n := uint8(1); n <= 20; n++ {
		lengths = append(lengths, n)
	}
	lengths = append(lengths, 20)
	c := codebook{entries: len(lengths)}
	if err := c.assign(lengths); err != nil {
		t.Fatal(err)
	}
	word := ""
	for entry := range 20 {
		if got := c.decode(newBitReader(packBits(word + "0"))); got != entry {
			t.Errorf("%s0 decodes to %d, want %d", word, got, entry)
		}
		word += "1"
	}
	if got := c.decode(newBitReader(packBits(word))); got != 20 {
		t.Errorf("%s decodes to %d, want 20", word, got)
	}
	if got := c.decode(newBitReader(packBits("11111111"))); got != -1 {
		t.Errorf("a code cut off decodes to %d", got)
	}
}

func TestBadCodeLengths(t *testing.T) {
	for _, lengths := range [][]uint8{{1, 1, 1}, {2, 2, 2}, {1, 3}, {2, 1, 1}} {
		c := codebook{entries: len(lengths)}
		if err := c.assign(lengths); !errors.Is(err, errDamaged) {
			t.Errorf("lengths %v: error %v", lengths, err)
		}
	}
}

// 9.2.3: the greatest r with r^dims <= entries.
func TestLookup1Values(t *testing.T) {
	for _, c := range [][3]int{
		{81, 4, 3}, {80, 4, 2}, {1, 5, 1}, {0, 2, 0}, {100, 1, 100}, {6561, 8, 3}, {1 << 20, 2, 1024},
	} {
		if got := lookup1Values(c[0], c[1]); got != c[2] {
			t.Errorf("lookup1Values(%d, %d) = %d, want %d", c[0], c[1], got, c[2])
		}
	}
}

// 9.2.2: 21 bits of mantissa, 10 of exponent less 788, sign.
func TestUnpackFloat(t *testing.T) {
	pack := func(mantissa uint32, exponent int, negative bool) uint32 {
		x := mantissa | uint32(exponent+788)<<21
		if negative {
			x |= 1 << 31
		}
		return x
	}
	for _, c := range []struct {
		x    uint32
		want float64
	}{
		{pack(1, 0, false), 1}, {pack(3, -1, true), -1.5}, {pack(0x1FFFFF, -21, false), 1 - math.Exp2(-21)}, {0, 0},
	} {
		if got := unpackFloat(c.x); got != c.want {
			t.Errorf("unpackFloat(%#x) = %g, want %g", c.x, got, c.want)
		}
	}
}

// Entries of the table printed in 10.1, written from memory.
func TestFloorTable(t *testing.T) {
	table := inverseDB()
	for i, want := range map[int]float64{
		0: 1.0649863e-07, 1: 1.1341951e-07, 2: 1.2079015e-07, 3: 1.2863978e-07,
		253: 0.88168307, 254: 0.9389798, 255: 1,
	} {
		if got := float64(table[i]); math.Abs(got/want-1) > 1e-6 {
			t.Errorf("entry %d is %.8g, want %.8g", i, got, want)
		}
	}
}

// 9.2.6 by hand: a line from (0, 10) to (8, 2) falls one a step.
func TestRenderLine(t *testing.T) {
	line := make([]float32, 256)
	for i := range line {
		line[i] = float32(i)
	}
	v := []float32{1, 1, 1, 1, 1, 1, 1, 1, 1}
	renderLine(0, 10, 8, 2, line, v)
	for x := range 8 {
		if int(v[x]) != renderPoint(0, 10, 8, 2, x) || int(v[x]) != 10-x {
			t.Errorf("at %d: %g", x, v[x])
		}
	}
	if v[8] != 1 {
		t.Error("the line goes too far")
	}
}

func TestBitOrder(t *testing.T) { // the example of 2.1.6: 12 in 4 bits, -1 in 3, 17 in 7, 6969 in 13
	r := newBitReader([]byte{0xFC, 0x48, 0xCE, 0x06})
	for _, c := range [][2]int{{4, 12}, {3, 7}, {7, 17}, {13, 6969}} {
		if got := int(r.read(c[0])); got != c[1] {
			t.Errorf("%d bits: %d, want %d", c[0], got, c[1])
		}
	}
	if r.ended() {
		t.Error("ended too early")
	}
	r.read(6)
	if !r.ended() {
		t.Error("the end was not seen")
	}
}

func TestIlog(t *testing.T) { // the examples of 9.2.1
	for x, want := range map[int]int{0: 0, 1: 1, 2: 2, 3: 2, 4: 3, 7: 3, -5: 0} {
		if got := ilog(x); got != want {
			t.Errorf("ilog(%d) = %d, want %d", x, got, want)
		}
	}
}

func BenchmarkInverse2048(b *testing.B) {
	m := newMDCT(2048)
	x, first, second := make([]float32, 1024), make([]float32, 1024), make([]float32, 1024)
	for b.Loop() {
		for i := range x {
			x[i] = float32(i & 7)
		}
		m.inverse(x, first, second)
	}
}
