package decode

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"math"

	"github.com/go-audio/riff"
)

// WAV (Multimedia Programming Interface and Data Specifications 1.0, IBM and
// Microsoft 1991; WAVE_FORMAT_EXTENSIBLE, Microsoft 2001; RF64, EBU Tech 3306).
//
// Only the chunk headers are read with go-audio (package riff); the format chunk and
// the samples are read here: the package's comment says why.

// Format tags of the fmt chunk.
const (
	wavPCM        = 0x0001
	wavFloat      = 0x0003
	wavMP3        = 0x0055
	wavExtensible = 0xFFFE
)

var (
	rf64ID = [4]byte{'R', 'F', '6', '4'}
	ds64ID = [4]byte{'d', 's', '6', '4'}
)

// wavHeader is what stands before the samples.
type wavHeader struct {
	tag      uint16
	channels int
	rate     int
	frame    int   // bytes of one sample of all channels
	width    int   // bytes of one sample
	data     int64 // offset of the samples
	size     int64 // bytes of samples, -1 if the header does not say
}

// readWAVHeader reads up to the first sample. size is the size of the file in
// bytes, -1 if not known.
func readWAVHeader(r io.Reader, size int64) (wavHeader, error) {
	c := &chunkReader{r: r, p: riff.New(r), size: size}
	var h wavHeader
	id, _, err := c.next()
	if err != nil {
		return h, problem("", "its header is cut off")
	}
	var form [4]byte
	if _, err := io.ReadFull(r, form[:]); err != nil {
		return h, problem("", "its header is cut off")
	}
	c.pos += 4
	if id != riff.RiffID && id != rf64ID || form != riff.WavFormatID {
		return h, problem("", "it is not a WAV file")
	}
	big := int64(-1) // data size of an RF64 file
	for {
		id, n, err := c.next()
		if err != nil {
			if h.rate == 0 {
				return h, problem("", "its header is cut off: no format is stated")
			}
			return h, problem("", "it holds no sound: there is no data chunk")
		}
		switch {
		case id == riff.FmtID:
			if err := h.readFormat(c, n); err != nil {
				return h, err
			}
		case id == ds64ID:
			var b [16]byte
			if _, err := io.ReadFull(r, b[:min(n, 16)]); err != nil {
				return h, problem("", "its header is cut off")
			}
			c.pos += min(n, 16)
			big = int64(binary.LittleEndian.Uint64(b[8:]))
			if err := c.skip(n-min(n, 16), n); err != nil {
				return h, problem("", "its header is cut off")
			}
		case id == riff.DataFormatID:
			if h.rate == 0 {
				return h, problem("", "its header states no format before the samples")
			}
			h.data, h.size = c.pos, n
			if n == math.MaxUint32 && big >= 0 {
				h.size = big
			}
			return h, h.check()
		default:
			if err := c.skip(n, n); err != nil {
				return h, problem("", "it holds no sound: there is no data chunk")
			}
		}
	}
}

// readFormat reads a fmt chunk of n bytes.
func (h *wavHeader) readFormat(c *chunkReader, n int64) error {
	var b [40]byte
	k := min(n, int64(len(b)))
	if k < 16 {
		return problem("", "its header is damaged: the format chunk is too short")
	}
	if _, err := io.ReadFull(c.r, b[:k]); err != nil {
		return problem("", "its header is cut off")
	}
	c.pos += k
	le := binary.LittleEndian
	h.tag = le.Uint16(b[0:])
	h.channels = int(le.Uint16(b[2:]))
	rate := le.Uint32(b[4:])
	h.frame = int(le.Uint16(b[12:]))
	bits := int(le.Uint16(b[14:]))
	if h.tag == wavExtensible && k >= 26 {
		h.tag = le.Uint16(b[24:]) // the first two bytes of the sub-format's GUID
	}
	if err := checkClaims(int64(rate), h.channels); err != nil {
		return err
	}
	h.rate = int(rate)
	h.width = (bits + 7) / 8
	if h.frame == 0 {
		h.frame = h.width * h.channels
	}
	// The container's width decides; 20 bits sit in three bytes, left-justified.
	if h.frame%h.channels == 0 && h.frame/h.channels > h.width {
		h.width = h.frame / h.channels
	}
	if err := c.skip(n-k, n); err != nil {
		return problem("", "it holds no sound: there is no data chunk")
	}
	return nil
}

// check says whether the samples can be read here.
func (h *wavHeader) check() error {
	ok := false
	switch h.tag {
	case wavPCM:
		ok = h.width >= 1 && h.width <= 4
	case wavFloat:
		ok = h.width == 4 || h.width == 8
	case wavMP3:
		return nil
	default:
		return &unsupported{format: fmt.Sprintf("WAV with compressed samples (format tag 0x%04X)", h.tag)}
	}
	if !ok || h.frame != h.width*h.channels {
		return problem(notRecorded, "its header is damaged: %d bytes a frame for %d channels of %d bytes",
			h.frame, h.channels, h.width)
	}
	return nil
}

// chunkReader walks over the chunks of a RIFF file.
type chunkReader struct {
	r    io.Reader
	p    *riff.Parser
	pos  int64 // bytes read
	size int64 // of the file, -1 if not known
}

// next reads a chunk's name and size.
func (c *chunkReader) next() ([4]byte, int64, error) {
	id, n, err := c.p.IDnSize()
	c.pos += 8
	if c.size >= 0 && c.pos > c.size {
		err = io.ErrUnexpectedEOF // the library overlooks a missing size
	}
	return id, int64(n), err
}

// skip passes over the n bytes left of a chunk of the given size. A chunk of
// odd size is followed by a padding byte, which some writers forget.
func (c *chunkReader) skip(n, size int64) error {
	pad := size & 1
	s, ok := c.r.(io.Seeker)
	if !ok {
		k, err := io.CopyN(io.Discard, c.r, n+pad)
		c.pos += k
		return err
	}
	if c.size >= 0 && c.pos+n > c.size {
		return io.ErrUnexpectedEOF
	}
	c.pos += n
	if _, err := s.Seek(c.pos, io.SeekStart); err != nil {
		return err
	}
	if pad == 0 {
		return nil
	}
	var b [4]byte
	k, _ := io.ReadFull(c.r, b[:])
	if k < 4 || !chunkName(b[:]) { // a padding byte is zero, which no name starts with
		c.pos++
	}
	_, err := s.Seek(c.pos, io.SeekStart)
	return err
}

// chunkName reports whether b can be the name of a chunk: printable ASCII.
func chunkName(b []byte) bool {
	for _, c := range b {
		if c < ' ' || c > '~' {
			return false
		}
	}
	return true
}

// wavSource reads the samples of a WAV file.
type wavSource struct {
	head      wavHeader
	name      string
	n         int64 // frames, -1 if not known
	truncated bool
	r         *bufio.Reader
	file      *io.SectionReader // nil for a pipe
	closer    io.Closer
	left      int64 // frames still to read, -1 if not known
	buf       []byte
}

// openWAV opens the WAV data of in, size bytes.
func openWAV(in io.ReaderAt, size int64, closer io.Closer) (source, error) {
	r := io.NewSectionReader(in, 0, size)
	h, err := readWAVHeader(r, size)
	if err != nil {
		return nil, err
	}
	if h.tag == wavMP3 {
		n := size - h.data
		if h.size > 0 {
			n = min(n, h.size)
		}
		return openMP3(io.NewSectionReader(in, h.data, n), n, closer)
	}
	s := &wavSource{head: h, name: formatWAV, file: r, closer: closer}
	there := size - h.data
	s.n = h.size / int64(h.frame)
	if h.size > there || h.size == 0 && !onlyChunks(r, h.data, size) {
		// Writers that cannot go back leave 0 or a size near the maximum: the
		// samples reach to the end of the file.
		s.truncated = h.size != 0 && h.size < 0x7FFFF000 && there/int64(h.frame) < s.n
		s.n = there / int64(h.frame)
	}
	if _, err := r.Seek(h.data, io.SeekStart); err != nil {
		return nil, err
	}
	s.r = bufio.NewReaderSize(r, 1<<16)
	s.left = s.n
	return s, nil
}

// openPipedWAV reads a WAV file that cannot be sought, to its end.
func openPipedWAV(r io.Reader) (*wavSource, error) {
	s := &wavSource{name: formatWAV, n: -1, left: -1, r: bufio.NewReaderSize(r, 1<<16)}
	var err error
	s.head, err = readWAVHeader(s.r, -1)
	return s, err
}

// onlyChunks reports whether well-formed chunks fill the file from offset at
// to its end, so that an empty data chunk before them is meant so.
func onlyChunks(r io.ReadSeeker, at, size int64) bool {
	for at < size {
		var b [8]byte
		if _, err := r.Seek(at, io.SeekStart); err != nil {
			return false
		}
		if _, err := io.ReadFull(r, b[:]); err != nil || !chunkName(b[:4]) {
			return false
		}
		n := int64(binary.LittleEndian.Uint32(b[4:]))
		at += 8 + n + n&1
		if at == size+1 {
			at = size // the last padding byte is often forgotten
		}
	}
	return at == size
}

func (s *wavSource) info() Info {
	i := Info{Format: s.name, Rate: s.head.rate, Channels: s.head.channels}
	if s.n > 0 {
		i.Duration = float64(s.n) / float64(i.Rate)
	}
	return i
}

func (s *wavSource) frames() int64      { return s.n }
func (s *wavSource) warnings() []string { return nil }

func (s *wavSource) close() error {
	if s.closer == nil {
		return nil
	}
	return s.closer.Close()
}

func (s *wavSource) seek(n int64) (int64, error) {
	n = min(n, s.n)
	if _, err := s.file.Seek(s.head.data+n*int64(s.head.frame), io.SeekStart); err != nil {
		return 0, err
	}
	s.r.Reset(s.file)
	s.left = s.n - n
	return n, nil
}

func (s *wavSource) read(dst []float64) (int, error) {
	want := int64(len(dst) / s.head.channels)
	if s.left >= 0 {
		want = min(want, s.left)
	}
	if want == 0 {
		if s.truncated {
			return 0, io.ErrUnexpectedEOF
		}
		return 0, io.EOF
	}
	size := int(want) * s.head.frame
	if len(s.buf) < size {
		s.buf = make([]byte, size)
	}
	k, err := io.ReadFull(s.r, s.buf[:size])
	n := k / s.head.frame
	if n == 0 {
		switch {
		case err == io.EOF && s.left > 0: // it was longer when it was opened
			err = io.ErrUnexpectedEOF
		case err == io.ErrUnexpectedEOF && s.left < 0:
			err = io.EOF
		}
		return 0, err
	}
	if s.left >= 0 {
		s.left -= int64(n)
	}
	samples(dst[:n*s.head.channels], s.buf, s.head.tag, s.head.width)
	return n, nil
}

// samples converts little-endian samples to numbers, full scale 1.
func samples(dst []float64, b []byte, tag uint16, width int) {
	le := binary.LittleEndian
	switch {
	case tag == wavFloat && width == 4:
		for i := range dst {
			dst[i] = float64(math.Float32frombits(le.Uint32(b[4*i:])))
		}
	case tag == wavFloat:
		for i := range dst {
			dst[i] = math.Float64frombits(le.Uint64(b[8*i:]))
		}
	case width == 1: // unsigned
		for i := range dst {
			dst[i] = (float64(b[i]) - 128) / (1 << 7)
		}
	case width == 2:
		for i := range dst {
			dst[i] = float64(int16(le.Uint16(b[2*i:]))) / (1 << 15)
		}
	case width == 3:
		for i := range dst {
			v := int32(uint32(b[3*i])<<8 | uint32(b[3*i+1])<<16 | uint32(b[3*i+2])<<24)
			dst[i] = float64(v>>8) / (1 << 23)
		}
	case width == 4:
		for i := range dst {
			dst[i] = float64(int32(le.Uint32(b[4*i:]))) / (1 << 31)
		}
	}
}
