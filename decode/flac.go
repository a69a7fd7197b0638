package decode

import (
	"bufio"
	"errors"
	"fmt"
	"io"

	"github.com/mewkiz/flac/frame"
	"github.com/mewkiz/flac/meta"
)

// FLAC (RFC 9639).
//
// github.com/mewkiz/flac decodes the frames. Its Seek uses a seek table if the
// file has one and otherwise decodes the whole file to make one. So the frame
// to start from is found here by bisection: every frame header holds its own
// position (section 9.1.5), so a header found anywhere in the file tells which
// way to go.

// flacSource decodes a FLAC file.
type flacSource struct {
	r      io.ReaderAt
	closer io.Closer
	si     *meta.StreamInfo
	data   int64 // offset of the first frame
	size   int64 // of the file
	first  flacHeader
	n      int64 // samples of each channel, -1 if not known
	in     *offsetReader
	pos    int64 // next sample to be handed out
	block  *frame.Frame
	head   flacHeader // of block
	at     int        // next sample of block
	gap    int64      // silent samples to hand out before block
	broken int        // damaged frames
	heard  int64      // samples of sound decoded
	silent silence    // what stands for missing samples
	vain   int64      // bytes read for frames that were none
}

// A header's checksum of eight bits fits by chance once in 256 times, and by intent
// anywhere. So what may be read for frames that turn out to be none is bounded: by so many
// times the file's size and so many bytes.
const (
	vainTimes = 16
	vainBytes = 16 << 20
)

// errVain says that a file holds too much that looks like sound and is none.
var errVain = errors.New("too much of it looks like sound and is none")

// openFLAC opens the FLAC data of r from offset at on.
func openFLAC(r io.ReaderAt, at, size int64, closer io.Closer) (*flacSource, error) {
	s := &flacSource{r: r, closer: closer, size: size}
	at += 4 // "fLaC"
	for last := false; !last; {
		var b [4]byte
		if _, err := r.ReadAt(b[:], at); err != nil {
			return nil, problem("", "its header is cut off")
		}
		n := int64(b[1])<<16 | int64(b[2])<<8 | int64(b[3])
		last = b[0]&0x80 != 0
		if s.si == nil {
			if b[0]&0x7F != 0 || n != 34 {
				return nil, problem("", "its header is damaged: it does not start with the stream's properties")
			}
			block, err := meta.Parse(io.NewSectionReader(r, at, 4+n))
			if err != nil {
				return nil, &Error{Problem: "its header is damaged", Hint: notRecorded, Err: err}
			}
			s.si = block.Body.(*meta.StreamInfo)
		}
		if at += 4 + n; at > size {
			return nil, problem("", "its header is cut off")
		}
	}
	s.data = at
	if s.si.BitsPerSample < minFLACBits {
		return nil, problem(notRecorded, "its header states an impossible sample size: %d bits", s.si.BitsPerSample)
	}
	if err := checkClaims(int64(s.si.SampleRate), int(s.si.NChannels)); err != nil {
		return nil, err
	}
	s.silent.rate = int(s.si.SampleRate)
	if s.si.BitsPerSample > 24 {
		return nil, &unsupported{format: fmt.Sprintf("FLAC of %d bits", s.si.BitsPerSample)}
	}
	_, h, ok := s.find(at, min(size, at+1<<20), func(flacHeader) bool { return true })
	if !ok {
		return nil, problem("", "it holds no sound")
	}
	s.first = h
	s.n = int64(s.si.NSamples)
	if s.n == 0 || s.n > (size-s.data)/leastFLACSize*maxFLACBlock {
		s.n = s.measure()
	}
	return s, nil
}

// measure returns the position after the last frame, -1 if none is found.
func (s *flacSource) measure() int64 {
	n := int64(-1)
	for at := max(s.data, s.size-1<<20); ; at++ {
		var h flacHeader
		var ok bool
		if at, h, ok = s.find(at, s.size, s.fits); !ok {
			return n
		}
		n = s.sample(h) + int64(h.block)
	}
}

// flacHeader is what a frame header tells.
type flacHeader struct {
	variable bool   // number counts samples, not frames
	codes    uint16 // sampling rate, sample size: the same in all frames
	number   int64
	block    int // samples of each channel
	size     int // bytes of the header
}

// parseFLACHeader reads a frame header (RFC 9639, section 9.1) and checks its
// CRC.
func parseFLACHeader(b []byte) (flacHeader, bool) {
	var h flacHeader
	if len(b) < 6 || b[0] != 0xFF || b[1]&0xFE != 0xF8 || b[3]&1 != 0 {
		return h, false
	}
	h.variable = b[1]&1 != 0
	h.codes = uint16(b[2]&15)<<8 | uint16(b[3]&0x0E)
	size, rate := int(b[2]>>4), int(b[2]&15)
	if size == 0 || rate == 15 || b[3]>>4 > 10 {
		return h, false
	}
	n, used := codedNumber(b[4:])
	if used == 0 {
		return h, false
	}
	h.number = n
	at := 4 + used
	switch {
	case size == 1:
		h.block = 192
	case size <= 5:
		h.block = 144 << size
	case size == 6 && len(b) > at:
		h.block = int(b[at]) + 1
		at++
	case size == 7 && len(b) > at+1:
		h.block = int(b[at])<<8 + int(b[at+1]) + 1
		at += 2
	case size >= 8:
		h.block = 1 << size
	}
	switch rate {
	case 12:
		at++
	case 13, 14:
		at += 2
	}
	h.size = at + 1
	return h, h.block > 0 && h.block <= maxFLACBlock && len(b) > at && crc8(b[:at]) == b[at]
}

// codedNumber reads a number coded like UTF-8 of up to seven bytes and returns
// the number of bytes, 0 if there is no such number.
func codedNumber(b []byte) (n int64, used int) {
	if b[0] < 0x80 {
		return int64(b[0]), 1
	}
	lead := 0
	for lead < 8 && b[0]&(0x80>>lead) != 0 {
		lead++
	}
	if lead < 2 || lead > 7 || len(b) < lead {
		return 0, 0
	}
	n = int64(b[0]) & (0x7F >> lead)
	for _, c := range b[1:lead] {
		if c&0xC0 != 0x80 {
			return 0, 0
		}
		n = n<<6 | int64(c&0x3F)
	}
	return n, lead
}

// crc8 is the checksum of frame headers: polynomial x⁸+x²+x+1.
func crc8(b []byte) byte {
	c := byte(0)
	for _, v := range b {
		c ^= v
		for range 8 {
			if c&0x80 != 0 {
				c = c<<1 ^ 7
			} else {
				c <<= 1
			}
		}
	}
	return c
}

// sample returns the position of a frame's first sample.
func (s *flacSource) sample(h flacHeader) int64 {
	n := h.number - s.first.number // not 0 where a stream was cut
	if h.variable {
		return n
	}
	return n * int64(s.first.block) // only the last block may be shorter
}

// fits reports whether a header can belong to this stream.
func (s *flacSource) fits(h flacHeader) bool {
	return h.variable == s.first.variable && h.codes == s.first.codes &&
		(h.variable || h.block <= s.first.block) && h.number >= s.first.number
}

// find returns the first frame header that starts in [from, to) and is wanted.
func (s *flacSource) find(from, to int64, wanted func(flacHeader) bool) (int64, flacHeader, bool) {
	const longest = 16 // bytes of a header
	buf := make([]byte, 1<<15)
	for from < to {
		n, _ := s.r.ReadAt(buf, from)
		if n < 6 {
			return 0, flacHeader{}, false
		}
		for i := 0; i < n && from+int64(i) < to; i++ {
			if buf[i] != 0xFF {
				continue
			}
			if n == len(buf) && i > n-longest {
				break
			}
			if h, ok := parseFLACHeader(buf[i:min(n, i+longest)]); ok && wanted(h) {
				return from + int64(i), h, true
			}
		}
		if n < len(buf) {
			break
		}
		from += int64(n - longest)
	}
	return 0, flacHeader{}, false
}

// bisect returns the offset of a frame at or not far before sample n.
func (s *flacSource) bisect(n int64) int64 {
	lo, hi := s.data, s.size
	loSample, hiSample := int64(0), int64(1)<<62
	for hi-lo > 1<<15 {
		mid := lo + (hi-lo)/2
		at, h, ok := s.find(mid, hi, func(h flacHeader) bool {
			return s.fits(h) && s.sample(h) > loSample && s.sample(h) < hiSample
		})
		switch {
		case !ok:
			hi = mid
		case s.sample(h) <= n:
			lo, loSample = at, s.sample(h)
		default:
			hi, hiSample = mid, s.sample(h)
		}
	}
	return lo
}

// crc16 continues the checksum of whole frames: polynomial x¹⁶+x¹⁵+x²+1. It is
// zero after a frame with its own checksum.
func crc16(c uint16, b []byte) uint16 {
	for _, v := range b {
		c ^= uint16(v) << 8
		for range 8 {
			if c&0x8000 != 0 {
				c = c<<1 ^ 0x8005
			} else {
				c <<= 1
			}
		}
	}
	return c
}

// offsetReader counts where it is in the file. It can give other bytes for the
// next ones of the file, and then keeps the checksum of the file's own.
type offsetReader struct {
	br    *bufio.Reader
	pos   int64
	other []byte
	crc   uint16
	sum   bool
}

func (o *offsetReader) Read(p []byte) (int, error) {
	if len(o.other) > 0 {
		n := copy(p, o.other)
		o.other = o.other[n:]
		return n, nil
	}
	n, err := o.br.Read(p)
	o.pos += int64(n)
	if o.sum {
		o.crc = crc16(o.crc, p[:n])
	}
	return n, err
}

// replace gives b for as many of the file's bytes.
func (o *offsetReader) replace(b []byte) error {
	own, err := o.br.Peek(len(b))
	if err != nil {
		return err
	}
	o.crc, o.sum, o.other = crc16(0, own), true, b
	n, err := o.br.Discard(len(b))
	o.pos += int64(n)
	return err
}

// jump makes offset the next to be read.
func (s *flacSource) jump(offset int64) {
	section := io.NewSectionReader(s.r, offset, s.size-offset)
	s.in = &offsetReader{br: bufio.NewReaderSize(section, 1<<15), pos: offset}
}

func (s *flacSource) info() Info {
	i := Info{Format: formatFLAC, Rate: int(s.si.SampleRate), Channels: int(s.si.NChannels)}
	if s.n > 0 {
		i.Duration = float64(s.n) / float64(i.Rate)
	}
	return i
}

func (s *flacSource) frames() int64 { return s.n }

func (s *flacSource) warnings() []string {
	if s.broken == 0 {
		return nil
	}
	return []string{count(int64(s.broken), "damaged block", "damaged blocks") + ": silence instead"}
}

func (s *flacSource) close() error {
	if s.closer == nil {
		return nil
	}
	return s.closer.Close()
}

func (s *flacSource) seek(n int64) (int64, error) {
	offset := s.bisect(n)
	s.jump(offset)
	if offset > s.data {
		s.pos = unknownPosition
	}
	for {
		err := s.next()
		if err == io.EOF || err == io.ErrUnexpectedEOF {
			return max(0, s.pos), nil
		}
		if err != nil {
			return 0, err
		}
		start := s.sample(s.head)
		if start > n && offset > s.data {
			// What bisection found was no header after all. Start at the front.
			offset = s.data
			s.jump(offset)
			s.pos = 0
			continue
		}
		if end := start + int64(s.head.block); n >= end {
			s.pos = end
			continue
		}
		s.pos = n
		s.at, s.gap = int(max(0, n-start)), max(0, start-n)
		return n, nil
	}
}

// unknownPosition stands for s.pos before the first frame after a jump.
const unknownPosition = -1

// next decodes one frame. It passes over damaged ones and sets s.gap to the
// number of samples missing before the frame.
func (s *flacSource) next() error {
	for {
		start := s.in.pos
		err := s.decodeFrame()
		if err == nil {
			at := s.sample(s.head)
			if s.pos == unknownPosition {
				s.pos = at
			}
			s.gap = max(0, at-s.pos)
			s.at = int(min(int64(s.head.block), max(0, s.pos-at)))
			s.heard += int64(s.head.block)
			return s.silent.fill(s.gap, s.heard)
		}
		s.block = nil
		if s.vain += s.in.pos - start + 4*int64(s.first.block); s.vain > vainTimes*s.size+vainBytes {
			return errVain
		}
		if err == io.EOF {
			if s.n >= 0 && s.pos < s.n {
				return io.ErrUnexpectedEOF
			}
			return io.EOF
		}
		// After damage, go on at the next header that can follow.
		limit := s.pos + longestGap*int64(s.si.SampleRate)
		next, _, ok := s.find(start+1, s.size, func(h flacHeader) bool {
			return s.fits(h) && s.sample(h) >= s.pos && (s.sample(h) < limit || s.pos == unknownPosition)
		})
		if !ok {
			return err
		}
		s.broken++
		s.jump(next)
	}
}

// decodeFrame decodes the frame at the reader's position. A panic in the
// library counts as damage.
func (s *flacSource) decodeFrame() (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("the FLAC decoder gave up: %v", r)
		}
	}()
	b, err := s.in.br.Peek(16)
	if len(b) == 0 {
		return err
	}
	h, ok := parseFLACHeader(b)
	if !ok || !s.fits(h) {
		if s.n >= 0 && s.pos >= s.n {
			return io.EOF // a tag after the last frame
		}
		if len(b) < 16 {
			return io.ErrUnexpectedEOF
		}
		return errors.New("no frame where one should be")
	}
	s.in.sum = false
	if rate := b[2] & 15; rate == 2 || rate == 7 {
		// The library prints a note to the log for each frame that states 176.4
		// or 24 kHz: let the header say "as the stream's properties say".
		quiet := append([]byte(nil), b[:h.size]...)
		quiet[2] &= 0xF0
		quiet[h.size-1] = crc8(quiet[:h.size-1])
		if err := s.in.replace(quiet); err != nil {
			return cutShort(err)
		}
	}
	f, err := frame.New(s.in)
	if err != nil {
		return cutShort(err)
	}
	if f.BitsPerSample == 0 { // "as the stream's properties say"
		f.BitsPerSample = s.si.BitsPerSample
	}
	// The library's checksum does not fit a changed header; ours does.
	if err := f.Parse(); err != nil && !(s.in.sum && s.in.crc == 0 && decoded(f)) {
		return cutShort(err)
	}
	if len(f.Subframes) != int(s.si.NChannels) || int(f.BlockSize) != h.block {
		return fmt.Errorf("a frame of %d channels in a stream of %d", len(f.Subframes), s.si.NChannels)
	}
	s.block, s.head = f, h
	return nil
}

// decoded reports whether all samples of a frame are there.
func decoded(f *frame.Frame) bool {
	for _, sub := range f.Subframes {
		if sub == nil || len(sub.Samples) != int(f.BlockSize) {
			return false
		}
	}
	return true
}

func cutShort(err error) error {
	if err == io.EOF {
		return io.ErrUnexpectedEOF
	}
	return err
}

func (s *flacSource) read(dst []float64) (int, error) {
	if s.in == nil {
		s.jump(s.data)
	}
	ch := int(s.si.NChannels)
	room := len(dst) / ch
	for s.gap == 0 && (s.block == nil || s.at >= s.head.block) {
		if err := s.next(); err != nil {
			return 0, err
		}
	}
	if s.gap > 0 {
		n := int(min(int64(room), s.gap))
		clear(dst[:n*ch])
		s.gap -= int64(n)
		s.pos += int64(n)
		return n, nil
	}
	n := min(room, s.head.block-s.at)
	bits := s.block.BitsPerSample
	scale := 1 / float64(int64(1)<<(bits-1))
	for c, sub := range s.block.Subframes {
		in := sub.Samples[s.at : s.at+n]
		for i, v := range in {
			dst[i*ch+c] = float64(v) * scale
		}
	}
	s.at += n
	s.pos += int64(n)
	return n, nil
}
