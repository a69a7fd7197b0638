package decode

import (
	"encoding/binary"
	"fmt"
	"io"

	"github.com/hajimehoshi/go-mp3"
)

// MP3 (ISO/IEC 11172-3 and 13818-3, Layer III).
//
// github.com/hajimehoshi/go-mp3 decodes the frames. What surrounds them is done
// here: finding the frames, skipping tags and damage, leaving out the encoder's
// delay, and starting in the middle.
//
// A frame may use bytes left over in earlier ones (the bit reservoir,
// ISO/IEC 11172-3, 2.4.3.4), and its sound overlaps that of the frame before.
// So to start at a frame the decoder is given a few frames more, and their
// sound is thrown away. From then on the output is bit for bit that of decoding
// the whole file.

// mp3Header is the header of a Layer III frame.
type mp3Header struct {
	lsf      bool // MPEG-2: half the sampling rate, one granule a frame
	crc      bool
	bitrate  int // bit/s
	rate     int // Hz
	padding  int
	channels int
	joint    int // mode extension, 0 unless joint stereo
}

// bit rates in kbit/s of MPEG-1 and MPEG-2 Layer III (ISO/IEC 11172-3,
// 2.4.2.3; ISO/IEC 13818-3, 2.4.2.3).
var mp3Bitrates = [2][16]int{
	{0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320, 0},
	{0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160, 0},
}

var mp3Rates = [4]int{44100, 48000, 32000, 0}

// parseMP3Header reads a header of MPEG-1 or MPEG-2 Layer III with a stated bit
// rate.
func parseMP3Header(b []byte) (mp3Header, bool) {
	var h mp3Header
	if len(b) < 4 || b[0] != 0xFF || b[1]&0xF6 != 0xF2 {
		return h, false // sync 1111 1111 1111, any version, layer 01
	}
	h.lsf = b[1]&8 == 0
	h.crc = b[1]&1 == 0
	h.rate = mp3Rates[b[2]>>2&3]
	h.bitrate = 1000 * mp3Bitrates[bit(h.lsf)][b[2]>>4]
	h.padding = int(b[2] >> 1 & 1)
	h.channels = 2
	switch b[3] >> 6 {
	case 1:
		h.joint = int(b[3] >> 4 & 3)
	case 3:
		h.channels = 1
	}
	if h.lsf {
		h.rate /= 2
	}
	return h, h.rate > 0 && h.bitrate > 0 && b[3]&3 != 2
}

func bit(b bool) int {
	if b {
		return 1
	}
	return 0
}

// size is the length of the frame in bytes.
func (h mp3Header) size() int { return (144>>bit(h.lsf))*h.bitrate/h.rate + h.padding }

// samples is the number of samples of each channel in the frame.
func (h mp3Header) samples() int { return 1152 >> bit(h.lsf) }

// sideStart and sideSize locate the side information.
func (h mp3Header) sideStart() int { return 4 + 2*bit(h.crc) }

func (h mp3Header) sideSize() int {
	switch {
	case !h.lsf && h.channels == 2:
		return 32
	case h.lsf && h.channels == 1:
		return 9
	}
	return 17
}

// mainSize is the number of bytes after the side information.
func (h mp3Header) mainSize() int { return h.size() - h.sideStart() - h.sideSize() }

// mainBegin is how many bytes before its own the frame's data begin.
func (h mp3Header) mainBegin(frame []byte) int {
	b := frame[h.sideStart():]
	if h.lsf {
		return int(b[0])
	}
	return int(b[0])<<1 | int(b[1]>>7)
}

func (h mp3Header) setMainBegin(frame []byte, n int) {
	b := frame[h.sideStart():]
	if h.lsf {
		b[0] = byte(n)
		return
	}
	b[0], b[1] = byte(n>>1), b[1]&0x7F|byte(n<<7)
}

// maxBegin is the largest value of mainBegin.
func (h mp3Header) maxBegin() int { return 511 >> bit(h.lsf) }

// like reports whether g can follow h in one stream.
func (h mp3Header) like(g mp3Header) bool {
	return h.lsf == g.lsf && h.rate == g.rate && h.channels == g.channels
}

// mp3Tag is what the Xing, Info or VBRI frame tells. That frame holds no sound.
type mp3Tag struct {
	frames  int64 // frames of sound, 0 if not told
	delay   int   // samples the encoder put before the sound
	padding int   // and after it
	trimmed bool  // delay and padding are told
}

// parseMP3Tag reads the tag in the first frame, if it is one. The layout of the
// Xing tag and its LAME extension is common practice without a standard: a
// four-letter name after the side information; flags; the fields they name;
// then nine letters of the encoder's name and, 21 bytes from their start, twelve
// bits of delay and twelve of padding.
func parseMP3Tag(h mp3Header, frame []byte) (mp3Tag, bool) {
	var t mp3Tag
	if len(frame) >= 54 && string(frame[36:40]) == "VBRI" {
		t.frames = int64(binary.BigEndian.Uint32(frame[50:]))
		return t, true
	}
	at := 4 + h.sideSize() // written as if there were no checksum
	if len(frame) < at+8 {
		return t, false
	}
	b := frame[at:]
	if name := string(b[:4]); name != "Xing" && name != "Info" {
		return t, false
	}
	flags := binary.BigEndian.Uint32(b[4:])
	b = b[8:]
	for i, size := range []int{4, 4, 100, 4} {
		if flags>>i&1 == 0 {
			continue
		}
		if len(b) < size {
			return t, true
		}
		if i == 0 {
			t.frames = int64(binary.BigEndian.Uint32(b))
		}
		b = b[size:]
	}
	if len(b) < 24 || b[0] == 0 {
		return t, true
	}
	t.delay = int(b[21])<<4 | int(b[22]>>4)
	t.padding = int(b[22]&15)<<8 | int(b[23])
	t.trimmed = t.delay > 0 || t.padding > 0
	return t, true
}

// decoderDelay is the number of samples by which a Layer III decoder's filter
// bank is late: 528, and one more by the way encoders count.
const decoderDelay = 529

// mp3Source decodes an MP3 file.
type mp3Source struct {
	r       io.ReaderAt
	closer  io.Closer
	head    mp3Header
	index   []int64 // where each frame of sound starts
	skip    int64   // samples before the sound
	n       int64   // samples of the sound
	cut     bool    // the file ends too early
	repack  bool    // frames need other sizes, see mp3Feed
	junk    int64   // bytes between frames that belong to none
	junkAt  int     // frame before the first of them
	silent  map[int]bool
	dec     *mp3.Decoder
	feed    *mp3Feed
	pos     int64 // next sample, counted from the first frame
	discard int64 // samples still to be thrown away
	failed  error // what the decoder said after the last samples it gave
	again   int   // frames decoded for the sake of those after them
	buf     []byte
}

// Every damaged frame costs up to 255 others before it, where frames are small. So their
// number is bounded: by so many times the file's frames and so many more.
const (
	againTimes  = 4
	againFrames = 1000
)

// openMP3 opens the MP3 data of r, size bytes.
func openMP3(r io.ReaderAt, size int64, closer io.Closer) (*mp3Source, error) {
	s := &mp3Source{r: r, closer: closer, silent: map[int]bool{}}
	tag, err := s.scan(size)
	if err != nil {
		return nil, err
	}
	spf := int64(s.head.samples())
	s.n = int64(len(s.index)) * spf
	if tag.frames > int64(len(s.index)) && tag.frames < 1<<32-1 {
		s.cut = true
	}
	if tag.trimmed {
		s.skip = int64(tag.delay + decoderDelay)
		s.n -= s.skip
		if !s.cut {
			s.n -= int64(max(0, tag.padding-decoderDelay))
		}
		s.n = max(s.n, 0)
	}
	return s, nil
}

// scan finds all frames.
func (s *mp3Source) scan(size int64) (tag mp3Tag, err error) {
	w := &window{r: s.r, size: size}
	at := int64(0)
	for { // tags may be repeated
		n, ok := id3Size(w.at(at, 10))
		if !ok {
			break
		}
		at += n
	}
	start, inStep := at, false
	for at < size {
		b := w.at(at, 4)
		if len(b) < 4 {
			break
		}
		h, ok := parseMP3Header(b)
		ok = ok && (s.head.rate == 0 || h.like(s.head))
		if ok && !inStep { // after anything else, believe a header only if another follows
			ok = s.follows(w, h, at, size)
		}
		if !ok {
			if s.endTag(w, at, size) {
				break
			}
			if s.head.rate == 0 && at-start > 1<<20 {
				break
			}
			inStep = false
			s.noteJunk(1)
			at++
			continue
		}
		next := at + int64(h.size())
		if s.head.rate == 0 {
			s.head, s.junk = h, 0
			if t, is := parseMP3Tag(h, w.at(at, h.size())); is {
				tag, at, inStep = t, next, true
				continue
			}
		}
		if next > size {
			s.cut = true
			break
		}
		s.index = append(s.index, at)
		s.repack = s.repack || libraryMP3Size(h) != h.size()
		at, inStep = next, true
	}
	s.cut = s.cut || w.err != nil
	if s.head.rate == 0 {
		return tag, problem("", "no MP3 frames are found in it")
	}
	if len(s.index) == 0 {
		return tag, problem("", "it holds no sound")
	}
	if s.repack && !s.canRepack(w) {
		return tag, &unsupported{format: "MP3 at 22.05 kHz and a high bit rate"}
	}
	return tag, nil
}

// follows reports whether a fitting frame, or the end, comes after the one at.
func (s *mp3Source) follows(w *window, h mp3Header, at, size int64) bool {
	next := at + int64(h.size())
	b := w.at(next, 4)
	if len(b) < 4 {
		return len(s.index) > 0 || at == 0 || next <= size
	}
	g, ok := parseMP3Header(b)
	return ok && g.like(h) || s.endTag(w, next, size)
}

// endTag reports whether only a known tag is left from at on.
func (s *mp3Source) endTag(w *window, at, size int64) bool {
	b := w.at(at, 11)
	return size-at == 128 && len(b) >= 3 && string(b[:3]) == "TAG" ||
		len(b) >= 8 && string(b[:8]) == "APETAGEX" ||
		len(b) >= 11 && string(b[:11]) == "LYRICSBEGIN"
}

func (s *mp3Source) noteJunk(n int64) {
	if s.junk == 0 {
		s.junkAt = len(s.index)
	}
	s.junk += n
}

// libraryMP3Size is the frame size that go-mp3 computes. It halves after adding
// the padding byte, which loses that byte in MPEG-2 frames of some bit rates.
func libraryMP3Size(h mp3Header) int {
	return (144*h.bitrate/h.rate + h.padding) >> bit(h.lsf)
}

// window reads a file forwards in large pieces.
type window struct {
	r     io.ReaderAt
	size  int64
	buf   []byte
	start int64
	err   error
}

// at returns up to n bytes from offset on, fewer at the end of the file.
func (w *window) at(offset int64, n int) []byte {
	if offset >= w.size {
		return nil
	}
	n = int(min(int64(n), w.size-offset))
	if offset < w.start || offset+int64(n) > w.start+int64(len(w.buf)) {
		if w.buf == nil {
			w.buf = make([]byte, 0, min(w.size, 256<<10))
		}
		k, err := w.r.ReadAt(w.buf[:cap(w.buf)], offset)
		if err != nil && err != io.EOF {
			w.err = err
		}
		w.buf, w.start = w.buf[:k], offset
		n = min(n, k)
	}
	i := offset - w.start
	return w.buf[i : i+int64(n)]
}

func (s *mp3Source) info() Info {
	return Info{Format: formatMP3, Rate: s.head.rate, Channels: s.head.channels,
		Duration: float64(s.n) / float64(s.head.rate)}
}

func (s *mp3Source) frames() int64 { return s.n }

func (s *mp3Source) warnings() []string {
	var w []string
	spf := int64(s.head.samples())
	if s.junk > 0 {
		at := max(0, int64(s.junkAt)*spf-s.skip)
		w = append(w, fmt.Sprintf("%s at %s left out: times after that may be early",
			count(s.junk, "damaged byte", "damaged bytes"), Clock(float64(at)/float64(s.head.rate))))
	}
	if len(s.silent) > 0 {
		w = append(w, fmt.Sprintf("%s of %d ms: silence instead",
			count(int64(len(s.silent)), "damaged frame", "damaged frames"), 1000*spf/int64(s.head.rate)))
	}
	return w
}

func (s *mp3Source) close() error {
	if s.closer == nil {
		return nil
	}
	return s.closer.Close()
}

func (s *mp3Source) seek(n int64) (int64, error) {
	n = min(n, s.n)
	s.pos = n + s.skip
	return n, nil
}

// start makes a decoder whose next sample is s.pos.
func (s *mp3Source) start() error {
	spf := int64(s.head.samples())
	k := int(s.pos / spf)
	// Two frames must come right before frame k, and these need what can be in
	// the reservoir.
	from := max(0, k-2)
	for held := 0; from > 0 && held < s.head.maxBegin(); {
		from--
		held += s.mainSizeOf(from)
	}
	s.again += k - from
	s.feed = &mp3Feed{src: s, next: from}
	s.discard = s.pos - int64(from)*spf
	dec, err := mp3.NewDecoder(struct{ io.Reader }{s.feed}) // not a Seeker: no scan
	s.dec = dec
	return err
}

func (s *mp3Source) read(dst []float64) (int, error) {
	if s.dec == nil && s.pos < s.skip {
		s.pos = s.skip
	}
	end := s.n + s.skip
	for {
		if s.pos >= end {
			if s.cut {
				return 0, io.ErrUnexpectedEOF
			}
			return 0, io.EOF
		}
		frames, err := s.decode(int(min(int64(len(dst)/s.head.channels), end-s.pos)))
		if s.feed != nil && s.feed.err != nil {
			return 0, s.feed.err
		}
		if err != nil {
			// The decoder gave up in the frame loaded last: silence it, and
			// start again just before.
			bad := len(s.index) - 1
			if s.feed != nil && s.feed.next > 0 {
				bad = s.feed.next - 1
			}
			if s.silent[bad] {
				return 0, err
			}
			s.silent[bad] = true
			s.dec = nil
			if s.again > againTimes*len(s.index)+againFrames {
				return 0, errVain
			}
			continue
		}
		if frames == 0 {
			continue
		}
		s.convert(dst, frames)
		s.pos += int64(frames)
		return frames, nil
	}
}

// decode fills s.buf with up to n samples of both channels. It returns 0 while
// it is still throwing samples away.
func (s *mp3Source) decode(n int) (frames int, err error) {
	defer func() {
		if r := recover(); r != nil {
			frames, err = 0, fmt.Errorf("the MP3 decoder gave up: %v", r)
		}
	}()
	if s.dec == nil {
		if err := s.start(); err != nil {
			return 0, err
		}
	}
	if s.buf == nil {
		s.buf = make([]byte, 4*1152)
	}
	if s.discard > 0 {
		n = int(min(int64(n), s.discard))
	}
	buf := s.buf[:min(len(s.buf), 4*n)]
	if s.failed != nil {
		err, s.failed = s.failed, nil
		return 0, err
	}
	k, err := io.ReadFull(s.dec, buf)
	if k == 0 {
		if err == io.EOF {
			err = io.ErrUnexpectedEOF
		}
		return 0, err
	}
	s.failed = err // nil when all of buf was filled
	if s.discard > 0 {
		s.discard -= int64(k / 4)
		return 0, nil
	}
	return k / 4, nil
}

// convert turns the 16-bit samples of s.buf into numbers. The decoder
// multiplies by 32767 and cuts the fraction off towards zero; half a step,
// the mean of what was cut, is put back.
func (s *mp3Source) convert(dst []float64, frames int) {
	ch := s.head.channels
	for i := range frames {
		for c := range ch {
			v := float64(int16(binary.LittleEndian.Uint16(s.buf[4*i+2*c:])))
			switch {
			case v > 0:
				v += 0.5
			case v < 0:
				v -= 0.5
			}
			dst[i*ch+c] = v / 32767
		}
	}
}
