package vorbis

import "encoding/binary"

// bitReader reads a packet from the least significant bit of each byte up
// (2.1).
type bitReader struct {
	b   []byte // the packet and eight zero bytes
	pos int    // in bits
	end int    // in bits
}

func newBitReader(packet []byte) *bitReader {
	r := &bitReader{}
	r.reset(packet)
	return r
}

// reset makes the reader start on a packet.
func (r *bitReader) reset(packet []byte) {
	r.b = append(append(r.b[:0], packet...), 0, 0, 0, 0, 0, 0, 0, 0)
	r.pos, r.end = 0, 8*len(packet)
}

// peek returns the next 32 bits, zeros after the end.
func (r *bitReader) peek() uint32 {
	i := r.pos >> 3
	if i+8 > len(r.b) {
		return 0
	}
	return uint32(binary.LittleEndian.Uint64(r.b[i:]) >> (r.pos & 7))
}

// read returns the next n bits, at most 32.
func (r *bitReader) read(n int) uint32 {
	v := r.peek()
	r.pos += n
	return uint32(uint64(v) & (1<<n - 1))
}

// ended reports whether more was read than there is.
func (r *bitReader) ended() bool { return r.pos > r.end }
