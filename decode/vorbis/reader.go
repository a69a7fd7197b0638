package vorbis

import "io"

// Reader reads the samples of the first Vorbis stream in an Ogg file. Samples
// are counted from the first that is heard.
type Reader struct {
	pages  pageReader
	dec    decoder
	serial uint32
	data   int64 // offset of the first page of audio
	length int64 // samples of each channel, -1 if not known
	whole  bool  // the stream's last page is there
	more   bool  // another stream follows
	base   int64 // granule position of sample 0

	next    int64  // offset of the next page
	number  uint32 // its expected number
	synced  bool   // the page before was read, so number holds
	packet  []byte // start of a packet that goes on in the next page
	partial bool
	pos     int64       // next sample to hand out
	start   int64       // of pcm
	known   bool        // start is known
	pcm     [][]float32 // samples of the page decoded last
	at      int         // next of pcm
	gap     int64       // missing samples before pcm
	heard   int64       // samples of sound decoded
	silent  int64       // samples of silence in the place of missing ones
	damages int
	ended   bool
}

// longestGap is the longest damage in seconds that is filled with silence.
const longestGap = 30

// Open reads the headers of a file of the given size in bytes.
func Open(r io.ReaderAt, size int64) (*Reader, error) {
	v := &Reader{pages: pageReader{r: r, size: size}}
	if err := v.headers(); err != nil {
		return nil, err
	}
	v.measure()
	if err := v.begin(); err != nil && err != io.ErrUnexpectedEOF {
		return nil, err
	}
	if v.length >= 0 {
		v.length = max(0, v.length-v.base)
	}
	// A packet of one byte takes another one in the page's table, and yields half the
	// longest block at most: a position beyond that is a false claim.
	if v.length > size/2*int64(v.dec.blocks[1]/2) {
		v.length = -1
	}
	return v, nil
}

// fill notes n samples of silence in the place of missing ones. All silence together may
// be as long as the sound and longestGap more, so that a few bytes with a false position
// do not make hours of it.
func (v *Reader) fill(n int64) error {
	most := int64(longestGap) * int64(v.dec.rate)
	if n > most || v.silent+n > v.heard+most {
		return damaged("too much is missing")
	}
	v.gap = n
	v.silent += n
	return nil
}

// Rate is the sampling rate in Hz.
func (v *Reader) Rate() int { return v.dec.rate }

// Channels is the number of channels.
func (v *Reader) Channels() int { return v.dec.channels }

// Len is the number of samples of each channel, -1 if it is not known.
func (v *Reader) Len() int64 { return v.length }

// More reports whether another stream follows, which is not read.
func (v *Reader) More() bool { return v.more }

// Damages is the number of damaged places passed so far.
func (v *Reader) Damages() int { return v.damages }

// maxHeaders bounds the bytes of the three header packets: the comment may
// hold a picture.
const maxHeaders = 64 << 20

// headers reads the three header packets (4.2). The audio starts on a fresh
// page (A.2).
func (v *Reader) headers() error {
	pg, ok := v.pages.parse(0)
	if !ok || pg.flags&flagFirst == 0 {
		return damaged("no Ogg page at the start")
	}
	v.serial = pg.serial
	if err := v.dec.identification(pg.body); err != nil {
		return err
	}
	var packet []byte
	count := 1
	for at := pg.next; count < 3; at = pg.next {
		if pg, ok = v.pages.find(at, v.pages.size); !ok || pg.offset > maxHeaders {
			return damaged("headers cut off")
		}
		if pg.serial != v.serial {
			continue
		}
		body := pg.body
		for _, n := range pg.lacing {
			// Of the comment only the first bytes are kept.
			if count == 2 || len(packet) < 1<<16 {
				packet = append(packet, body[:n]...)
			}
			body = body[n:]
			if n == 255 {
				continue
			}
			if count++; count == 2 {
				if _, err := packetStart(packet, 3); err != nil {
					return err
				}
			} else {
				if err := v.dec.setupHeader(packet); err != nil {
					return err
				}
				break
			}
			packet = packet[:0]
		}
	}
	v.data = pg.next
	return nil
}

// measure finds the last page of the stream.
func (v *Reader) measure() {
	v.length = -1
	end := v.pages.size
	last, ok := v.lastPage(max(v.data, end-2*maxPageSize), end)
	if !ok {
		// Other streams follow: find where this one ends by bisection.
		lo, hi := v.data, end
		for hi-lo > maxPageSize {
			mid := lo + (hi-lo)/2
			pg, found := v.pages.find(mid, hi)
			switch {
			case !found:
				hi = mid
			case pg.serial == v.serial:
				lo = pg.offset
			default:
				hi = mid
			}
		}
		last, ok = v.lastPage(max(v.data, lo-2*maxPageSize), min(end, hi+maxPageSize))
	}
	if ok {
		next, found := v.pages.find(last.next, min(end, last.next+maxPageSize))
		v.more = found && next.flags&flagFirst != 0
		v.length = last.granule
		v.whole = last.flags&flagLast != 0
	}
}

// lastPage returns the last page of the stream with a granule position that
// starts in [from, to).
func (v *Reader) lastPage(from, to int64) (last page, ok bool) {
	for {
		pg, found := v.pages.find(from, to)
		if !found {
			return last, ok
		}
		if pg.serial == v.serial && pg.granule >= 0 {
			last, ok = pg, true
		}
		from = pg.next
	}
}

// begin starts at the first page of audio and finds sample 0: the granule
// position of the first page with a packet that yields sound, less the samples
// up to there. Where the page holds more sound than its position allows, the
// first samples are not to be heard (A.2), except on the last page, where the
// last are not.
func (v *Reader) begin() error {
	v.jump(v.data)
	v.start, v.known, v.base, v.pos = 0, true, 0, 0
	for {
		pg, n, err := v.decodePage()
		if err != nil {
			if err == io.EOF {
				return nil // no sound at all
			}
			return err
		}
		if n == 0 {
			continue
		}
		excess := int64(n) - pg.granule
		switch {
		case pg.granule < 0:
		case !v.known: // earlier pages are damaged
			v.start, v.known = max(0, -excess), true
			return v.fill(v.start)
		case excess <= 0:
			v.base = -excess
		case pg.flags&flagLast != 0:
			v.trim(pg.granule)
		default:
			v.at = int(excess)
			v.start = -excess
		}
		return nil
	}
}

// jump makes the page at offset the next.
func (v *Reader) jump(offset int64) {
	v.next, v.synced, v.partial, v.ended = offset, false, false, false
	v.packet = v.packet[:0]
	v.dec.reset()
	v.known, v.gap, v.damages = false, 0, 0
	v.heard, v.silent = 0, 0
	v.clearPCM()
}

func (v *Reader) clearPCM() {
	if v.pcm == nil {
		v.pcm = make([][]float32, v.dec.channels)
	}
	for c := range v.pcm {
		v.pcm[c] = v.pcm[c][:0]
	}
	v.at = 0
}

// trim cuts the samples of the page decoded last after n.
func (v *Reader) trim(n int64) {
	for c := range v.pcm {
		v.pcm[c] = v.pcm[c][:max(0, min(n, int64(len(v.pcm[c]))))]
	}
}

// decodePage decodes the packets that end on the next page of the stream into
// pcm and returns the page and the number of samples.
func (v *Reader) decodePage() (page, int, error) {
	if v.ended {
		return page{}, 0, io.EOF
	}
	var pg page
	for {
		var ok bool
		if pg, ok = v.pages.find(v.next, v.pages.size); !ok {
			v.ended = true
			if v.next < v.pages.size || !v.whole {
				return pg, 0, io.ErrUnexpectedEOF
			}
			return pg, 0, io.EOF
		}
		if pg.offset != v.next { // every jump is to the start of a page
			v.lose()
		}
		v.next = pg.next
		if pg.serial == v.serial {
			break
		}
		if pg.flags&flagFirst != 0 {
			v.ended = true
			return pg, 0, io.EOF
		}
	}
	if v.synced && pg.number != v.number {
		v.lose()
	}
	v.synced, v.number = true, pg.number+1
	v.clearPCM()
	body, skip := pg.body, false
	if pg.flags&flagContinued == 0 {
		v.packet, v.partial = v.packet[:0], false
	} else {
		skip = !v.partial // its start was not read
	}
	for _, n := range pg.lacing {
		if !skip {
			v.packet = append(v.packet, body[:n]...)
		}
		body = body[n:]
		v.partial = n == 255 && !skip
		if n == 255 {
			continue
		}
		if !skip {
			v.decodePacket()
		}
		skip = false
		v.packet = v.packet[:0]
	}
	v.ended = pg.flags&flagLast != 0
	return pg, len(v.pcm[0]), nil
}

// lose notes that something is missing here.
func (v *Reader) lose() {
	v.damages++
	v.partial = false
	v.dec.reset()
	v.known = false
}

// decodePacket appends a packet's samples to pcm. An empty or foreign packet is
// passed over, as 4.3.1 asks.
func (v *Reader) decodePacket() {
	out, err := v.dec.decode(v.packet)
	if err != nil {
		return
	}
	for c, x := range out {
		v.pcm[c] = append(v.pcm[c], x...)
	}
	if len(out) > 0 {
		v.heard += int64(len(out[0]))
	}
}

// advance decodes until there are samples to hand out.
func (v *Reader) advance() error {
	for {
		end := v.start + int64(len(v.pcm[0]))
		pg, n, err := v.decodePage()
		if err != nil {
			return err
		}
		last := pg.flags&flagLast != 0
		switch {
		case v.known: // goes on from the page before
			v.start = end
			if last && pg.granule >= 0 {
				v.trim(pg.granule - v.base - v.start)
			}
		case pg.granule < 0 || n == 0:
			continue
		case last:
			return io.EOF // where in the page the sound stops is not known
		default:
			v.start, v.known = pg.granule-v.base-int64(n), true
		}
		if v.start+int64(len(v.pcm[0])) > v.pos {
			v.at = int(max(0, v.pos-v.start))
			return v.fill(max(0, v.start-v.pos))
		}
	}
}

// SeekTo makes sample n the next to be read and returns n, or the number of
// samples in the stream if that is less.
func (v *Reader) SeekTo(n int64) (int64, error) {
	// A page may end with the first half of a packet, and a packet needs the
	// one before: start some blocks early.
	early := n - int64(4*v.dec.blocks[1])
	if early <= 0 {
		return v.forward(v.data, n)
	}
	lo, hi := v.data, v.pages.size
	for hi-lo > maxPageSize {
		mid := lo + (hi-lo)/2
		pg, ok := v.timedPage(mid, hi)
		switch {
		case !ok:
			hi = mid
		case pg.granule-v.base <= early:
			lo = pg.offset
		default:
			hi = mid
		}
	}
	if reached, err := v.forward(lo, n); err != nil || reached == n && v.gap == 0 {
		return reached, err
	}
	return v.forward(v.data, n)
}

// timedPage finds the first page of the stream with a position.
func (v *Reader) timedPage(from, to int64) (page, bool) {
	for {
		pg, ok := v.pages.find(from, to)
		if !ok || pg.serial == v.serial && pg.granule >= 0 {
			return pg, ok
		}
		from = pg.next
	}
}

// forward decodes from the page at offset up to sample n.
func (v *Reader) forward(offset, n int64) (int64, error) {
	if offset == v.data {
		if err := v.begin(); err != nil && err != io.ErrUnexpectedEOF {
			return 0, err
		}
	} else {
		v.jump(offset)
	}
	v.pos = n
	if v.known && v.start+int64(len(v.pcm[0])) > n {
		v.at = int(max(0, n-v.start))
		v.gap = max(0, v.start-n)
		return n, nil
	}
	err := v.advance()
	if err == io.EOF || err == io.ErrUnexpectedEOF {
		return min(n, max(0, v.start+int64(len(v.pcm[0])))), nil
	}
	return n, err
}

// Read fills dst with interleaved samples, full scale 1, and returns the number
// of samples of each channel. At the end it returns io.EOF, or
// io.ErrUnexpectedEOF where the stream is cut off.
func (v *Reader) Read(dst []float64) (int, error) {
	ch := v.dec.channels
	room := int64(len(dst) / ch)
	if v.gap == 0 && v.at >= len(v.pcm[0]) {
		if err := v.advance(); err != nil {
			return 0, err
		}
	}
	if v.gap > 0 {
		n := min(room, v.gap)
		clear(dst[:n*int64(ch)])
		v.gap -= n
		v.pos += n
		return int(n), nil
	}
	n := int(min(room, int64(len(v.pcm[0])-v.at)))
	for c, x := range v.pcm {
		for i, s := range x[v.at : v.at+n] {
			dst[i*ch+c] = float64(s)
		}
	}
	v.at += n
	v.pos += int64(n)
	return n, nil
}
