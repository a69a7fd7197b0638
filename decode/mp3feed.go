package decode

import (
	"errors"
	"fmt"
	"io"
)

// mp3Feed hands frames to go-mp3, one after the other, rewritten where that
// library would stumble:
//
//   - Data that begin before what the library holds make it panic: at a start
//     in the middle, or where a file was cut and pasted. Such a frame is
//     silenced by emptying its side information.
//   - The library counts the values that are not zero before it sorts the
//     values of short blocks by window, and undoes middle/side stereo up to
//     that count afterwards, so it leaves out the upper ones. The count is made
//     to reach the end by adding codes for zeros.
//   - It gets the size of some MPEG-2 frames wrong by one byte (see
//     libraryMP3Size). All frames of such a file are put into frames of sizes
//     that it gets right.
//
// After its own main data a rewritten frame holds as many of the original's
// last bytes as the next frame reaches back. Where all that does not fit into
// the largest frame, the original goes through as it is.
type mp3Feed struct {
	src     *mp3Source
	next    int    // frame to load next
	frame   []byte // of the frame loaded, what was not yet read
	have    int    // bytes of main data that the library holds
	earlier []byte // the last bytes of main data of the file
	in, out []byte
	data    []byte
	err     error // what reading the file failed with
}

func (f *mp3Feed) Read(p []byte) (int, error) {
	if len(f.frame) == 0 {
		if f.next >= len(f.src.index) {
			return 0, io.EOF
		}
		if err := f.load(f.next); err != nil {
			return 0, err
		}
		f.next++
	}
	n := copy(p, f.frame)
	f.frame = f.frame[n:]
	return n, nil
}

// load makes frame k the next to be read.
func (f *mp3Feed) load(k int) error {
	h, frame, err := f.src.readFrame(k, f.in)
	if err != nil {
		if !errors.Is(err, errChanged) {
			f.err = err
		}
		return err
	}
	f.in = frame
	side := frame[h.sideStart() : h.sideStart()+h.sideSize()]
	main := frame[h.sideStart()+h.sideSize():]
	begin := h.mainBegin(frame)
	missing := begin > len(f.earlier) || f.src.silent[k]
	if !missing {
		f.data = append(append(f.data[:0], f.earlier[len(f.earlier)-begin:]...), main...)
		missing = mp3MainBits(h, side) > 8*len(f.data)
	}
	f.earlier = append(f.earlier, main...)
	if n := len(f.earlier) - h.maxBegin(); n > 0 {
		f.earlier = f.earlier[:copy(f.earlier, f.earlier[n:])]
	}

	reach := 0 // how far the next frame reaches back into the original
	if !f.src.repack {
		reach = f.src.mainBeginOf(k + 1)
	}
	if !missing && (f.src.repack || cutsShortBlocks(h, side)) {
		keep := begin
		if f.src.repack {
			keep = 0
		}
		if f.rewrite(h, frame, keep, reach, true) || f.src.repack && f.rewrite(h, frame, 0, 0, false) {
			return nil
		}
	}
	if f.src.repack || missing || begin > f.have {
		clear(side)
		f.data = f.data[:0]
		if f.src.repack {
			f.rewrite(h, frame, 0, 0, false)
			return nil
		}
		begin = min(f.have, h.maxBegin())
		h.setMainBegin(frame, begin)
	}
	f.have = begin + h.mainSize()
	f.frame = frame
	return nil
}

// errChanged says that a frame is no longer what it was when the file was opened.
var errChanged = errors.New("it changed while it was read")

// readFrame reads frame k into buf, which grows as needed.
func (s *mp3Source) readFrame(k int, buf []byte) (mp3Header, []byte, error) {
	var b [4]byte
	if _, err := s.r.ReadAt(b[:], s.index[k]); err != nil {
		return mp3Header{}, nil, cutShort(err)
	}
	h, ok := parseMP3Header(b[:])
	if !ok {
		return h, nil, fmt.Errorf("frame %d: %w", k, errChanged)
	}
	if cap(buf) < h.size() {
		buf = make([]byte, 2048)
	}
	buf = buf[:h.size()]
	if n, err := s.r.ReadAt(buf, s.index[k]); n < len(buf) {
		return h, nil, cutShort(err)
	}
	return h, buf, nil
}

// mainSizeOf returns a frame's bytes of main data, 0 if it cannot be read.
func (s *mp3Source) mainSizeOf(k int) int {
	var b [4]byte
	s.r.ReadAt(b[:], s.index[k])
	h, ok := parseMP3Header(b[:])
	if !ok {
		return 0
	}
	return max(0, h.mainSize())
}

// mainBeginOf returns how far frame k reaches back, 0 if there is none.
func (s *mp3Source) mainBeginOf(k int) int {
	if k >= len(s.index) {
		return 0
	}
	var b [8]byte
	s.r.ReadAt(b[:], s.index[k])
	h, ok := parseMP3Header(b[:])
	if !ok {
		return 0
	}
	return h.mainBegin(b[:])
}

// Side information (ISO/IEC 11172-3, 2.4.1.7; ISO/IEC 13818-3, 2.4.1.7): some
// bits for the frame, then for each granule and each channel a record.
const (
	recordScale      = 29 // scalefac_compress: 4 bits, 9 in MPEG-2
	recordLengthMax  = 1<<12 - 1
	shortBlocks      = 2
	zeroCodes        = 144 // codes of four zeros that fill a granule
	zeroCodeBitsTabA = 1   // '1' (ISO/IEC 11172-3, table B.7)
	zeroCodeBitsTabB = 4   // '1111'
)

// records returns the position in bits of each granule's and channel's record,
// in the order of the main data.
func (h mp3Header) records() []int {
	first, size, granules := 9+5+4, 59, 2 // main_data_begin, private_bits, scfsi
	switch {
	case h.lsf:
		first, size, granules = 8+h.channels, 63, 1
	case h.channels == 2:
		first = 9 + 3 + 8
	}
	at := make([]int, granules*h.channels)
	for i := range at {
		at[i] = first + i*size
	}
	return at
}

// mp3MainBits returns the bits of main data that a frame uses.
func mp3MainBits(h mp3Header, side []byte) int {
	n := 0
	for _, at := range h.records() {
		n += getBits(side, at, 12)
	}
	return n
}

// blockType returns the block type of a record, 0 for long blocks.
func (h mp3Header) blockType(side []byte, record int) int {
	at := record + recordScale + 4
	if h.lsf {
		at += 5
	}
	if getBits(side, at, 1) == 0 { // window_switching_flag
		return 0
	}
	return getBits(side, at+1, 2)
}

// count1Table returns count1table_select of a record, its last bit.
func (h mp3Header) count1Table(side []byte, record int) int {
	if h.lsf {
		return getBits(side, record+62, 1)
	}
	return getBits(side, record+58, 1)
}

// cutsShortBlocks reports whether go-mp3 would leave out values: in
// middle/side stereo with short blocks.
func cutsShortBlocks(h mp3Header, side []byte) bool {
	if h.channels != 2 || h.joint&2 == 0 {
		return false
	}
	for _, at := range h.records() {
		if h.blockType(side, at) == shortBlocks {
			return true
		}
	}
	return false
}

// rewrite makes a frame of the same main data, followed by reach bytes of the
// original. With fill, codes for zeros are added to one channel of each granule
// of short blocks in middle/side stereo. The first keep bytes stay where they
// are, in earlier frames, if nothing is added among them. It reports whether
// all that fits into a frame.
func (f *mp3Feed) rewrite(h mp3Header, frame []byte, keep, reach int, fill bool) bool {
	out := append(f.out[:0], frame[:4]...)
	out = append(out, frame[h.sideStart():h.sideStart()+h.sideSize()]...)
	side := out[4:]
	records := h.records()
	extra := make([]int, len(records))
	bits, unchanged := 0, 0
	for i, at := range records {
		if fill && h.channels == 2 && i%2 == 0 {
			extra[i], extra[i+1] = h.filling(side, at, records[i+1])
		}
		bits += getBits(side, at, 12)
		if extra[i] > 0 && unchanged == 0 {
			unchanged = bits
		}
		bits += extra[i]
	}
	if unchanged < 8*keep || keep > f.have {
		keep = 0
	}
	index, fits := mp3RateFor(h, (bits+7)/8-keep+reach)
	if !fits {
		return false
	}

	g := h
	g.crc, g.padding, g.bitrate = false, 0, 1000*mp3Bitrates[bit(h.lsf)][index]
	out[1] |= 1 // no checksum
	out[2] = byte(index)<<4 | frame[2]&0x0C
	start := len(out) - keep // where the main data would start
	for len(out) < g.size() {
		out = append(out, 0)
	}
	g.setMainBegin(out, keep)
	side = out[4 : 4+len(side)]
	from, to := 0, 0
	body := out[start+keep:]
	for i, at := range records {
		n := getBits(side, at, 12)
		k := min(n, max(0, 8*keep-to)) // these stay
		copyBits(body, to+k-8*keep, f.data, from+k, n-k)
		from, to = from+n, to+n
		for range extra[i] {
			setBits(body, to-8*keep, 1, 1)
			to++
		}
		setBits(side, at, 12, n+extra[i])
	}
	if reach > 0 {
		copy(body[len(body)-reach:], f.earlier[max(0, len(f.earlier)-reach):])
	}
	f.out, f.frame, f.have = out, out, keep+g.mainSize()
	return true
}

// filling returns how many bits, all ones, to add to the two channels of a
// granule so that the values of one reach to the end.
func (h mp3Header) filling(side []byte, left, right int) (l, r int) {
	if h.blockType(side, left) != shortBlocks && h.blockType(side, right) != shortBlocks {
		return 0, 0
	}
	best, bits := 0, 0
	for i, at := range []int{left, right} {
		n := getBits(side, at, 12)
		cost := zeroCodes * zeroCodeBitsTabA
		if h.count1Table(side, at) == 1 {
			cost = zeroCodes * zeroCodeBitsTabB
		}
		if n > 0 && n+cost <= recordLengthMax && (bits == 0 || cost < bits) {
			best, bits = i, cost
		}
	}
	if best == 0 {
		return bits, 0
	}
	return 0, bits
}

// mp3RateFor returns the index of the lowest bit rate whose frames, without
// padding or checksum, hold n bytes of main data.
func mp3RateFor(h mp3Header, n int) (int, bool) {
	h.padding, h.crc = 0, false
	for i, kbit := range mp3Bitrates[bit(h.lsf)] {
		h.bitrate = 1000 * kbit
		if kbit > 0 && libraryMP3Size(h) == h.size() && h.mainSize() >= n {
			return i, true
		}
	}
	return 0, false
}

// canRepack reports whether every frame's data fit into one frame.
func (s *mp3Source) canRepack(w *window) bool {
	for _, at := range s.index {
		b := w.at(at, 64)
		h, ok := parseMP3Header(b)
		if !ok || len(b) < h.sideStart()+h.sideSize() {
			return false
		}
		if _, fits := mp3RateFor(h, (mp3MainBits(h, b[h.sideStart():])+7)/8); !fits {
			return false
		}
	}
	return true
}

// getBits reads n bits from bit at on, most significant first.
func getBits(b []byte, at, n int) int {
	v := 0
	for i := at; i < at+n; i++ {
		v = v<<1 | int(b[i/8]>>(7-i%8)&1)
	}
	return v
}

// setBits writes the n bits of v from bit at on.
func setBits(b []byte, at, n, v int) {
	for i := at + n - 1; i >= at; i-- {
		m := byte(1) << (7 - i%8)
		b[i/8] &^= m
		if v&1 != 0 {
			b[i/8] |= m
		}
		v >>= 1
	}
}

// copyBits copies n bits.
func copyBits(dst []byte, to int, src []byte, from, n int) {
	for n > 0 {
		k := min(n, 24)
		setBits(dst, to, k, getBits(src, from, k))
		to, from, n = to+k, from+k, n-k
	}
}
