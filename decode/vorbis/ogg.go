package vorbis

import (
	"bytes"
	"encoding/binary"
	"io"
)

// page is an Ogg page (RFC 3533, section 6).
type page struct {
	offset, next int64 // where it starts and ends in the file
	flags        byte
	granule      int64 // position after the last packet that ends here, -1: none ends
	serial       uint32
	number       uint32
	lacing       []byte // segment lengths
	body         []byte
}

const (
	flagContinued = 1
	flagFirst     = 2
	flagLast      = 4

	pageHeader  = 27
	maxPageSize = pageHeader + 255 + 255*255
)

// pageReader finds pages in a file. The slices of a page are valid until the
// next call.
type pageReader struct {
	r    io.ReaderAt
	size int64
	buf  []byte
	at   int64 // offset of buf
	vain int64 // bytes whose checksum did not fit
}

// Bytes whose checksum does not fit are looked at once more for pages among them. So what
// a file may cost that looks like pages and holds none is bounded: by so many times its
// size and so many bytes.
const (
	vainTimes = 16
	vainBytes = 16 << 20
)

// bytes returns n bytes from offset on, fewer at the end of the file.
func (p *pageReader) bytes(offset int64, n int) []byte {
	n = int(max(0, min(int64(n), p.size-offset)))
	if offset < p.at || offset+int64(n) > p.at+int64(len(p.buf)) {
		if p.buf == nil {
			p.buf = make([]byte, 0, min(p.size, 4*maxPageSize))
		}
		k, _ := p.r.ReadAt(p.buf[:cap(p.buf)], offset)
		p.buf, p.at = p.buf[:k], offset
	}
	b := p.buf[offset-p.at:]
	return b[:min(n, len(b))]
}

// parse reads the page at offset and checks its CRC.
func (p *pageReader) parse(offset int64) (page, bool) {
	b := p.bytes(offset, maxPageSize)
	if len(b) < pageHeader || string(b[:5]) != "OggS\x00" {
		return page{}, false
	}
	segments := int(b[26])
	if len(b) < pageHeader+segments {
		return page{}, false
	}
	size := pageHeader + segments
	for _, n := range b[pageHeader:size] {
		size += int(n)
	}
	if len(b) < size {
		return page{}, false
	}
	b = b[:size]
	le := binary.LittleEndian
	if p.vain > vainTimes*p.size+vainBytes {
		return page{}, false
	}
	if crc(crc(crc(0, b[:22]), []byte{0, 0, 0, 0}), b[26:]) != le.Uint32(b[22:]) {
		p.vain += int64(size)
		return page{}, false
	}
	return page{
		offset:  offset,
		next:    offset + int64(size),
		flags:   b[5],
		granule: int64(le.Uint64(b[6:])),
		serial:  le.Uint32(b[14:]),
		number:  le.Uint32(b[18:]),
		lacing:  b[pageHeader : pageHeader+segments],
		body:    b[pageHeader+segments:],
	}, true
}

// find returns the first page that starts in [from, to).
func (p *pageReader) find(from, to int64) (page, bool) {
	for from < to {
		b := p.bytes(from, maxPageSize)
		i := bytes.Index(b, []byte("OggS"))
		if i < 0 {
			if len(b) < 4 {
				break
			}
			from += int64(len(b) - 3)
			continue
		}
		from += int64(i)
		if from >= to {
			break
		}
		if pg, ok := p.parse(from); ok {
			return pg, true
		}
		from++
	}
	return page{}, false
}

// crcTable is of the polynomial 0x04C11DB7, high bit first (RFC 3533,
// section 6, field 7).
var crcTable = func() (t [256]uint32) {
	for i := range t {
		c := uint32(i) << 24
		for range 8 {
			if c&0x80000000 != 0 {
				c = c<<1 ^ 0x04C11DB7
			} else {
				c <<= 1
			}
		}
		t[i] = c
	}
	return t
}()

func crc(c uint32, b []byte) uint32 {
	for _, v := range b {
		c = c<<8 ^ crcTable[byte(c>>24)^v]
	}
	return c
}
