package decode

import (
	"encoding/binary"
	"testing"
)

// Files made byte by byte, to claim what no encoder would.

// chunk is a chunk of a RIFF file, padded to an even size.
func chunk(name string, data []byte) []byte {
	b := binary.LittleEndian.AppendUint32([]byte(name), uint32(len(data)))
	b = append(b, data...)
	return append(b, make([]byte, len(data)&1)...)
}

// riffOf is a WAV file of the given chunks.
func riffOf(chunks ...[]byte) []byte {
	b := []byte("WAVE")
	for _, c := range chunks {
		b = append(b, c...)
	}
	return append(binary.LittleEndian.AppendUint32([]byte("RIFF"), uint32(len(b))), b...)
}

// wavFormat is a fmt chunk of whole numbers or floating point.
func wavFormat(tag, channels int, rate uint32, bits int) []byte {
	le := binary.LittleEndian
	frame := channels * ((bits + 7) / 8)
	b := le.AppendUint16(nil, uint16(tag))
	b = le.AppendUint16(b, uint16(channels))
	b = le.AppendUint32(b, rate)
	b = le.AppendUint32(b, rate*uint32(frame))
	b = le.AppendUint16(b, uint16(frame))
	return chunk("fmt ", le.AppendUint16(b, uint16(bits)))
}

// flacHead is "fLaC" and the stream's properties (RFC 9639, section 8.2).
func flacHead(rate, channels, bits, block int, samples uint64) []byte {
	be := binary.BigEndian
	b := append([]byte("fLaC"), 0x80, 0, 0, 34)
	b = be.AppendUint16(b, uint16(block))
	b = be.AppendUint16(b, uint16(block))
	b = append(b, make([]byte, 6)...) // frame sizes: not known
	b = be.AppendUint64(b, uint64(rate)<<44|uint64(channels-1)<<41|uint64(bits-1)<<36|samples)
	return append(b, make([]byte, 16)...) // no checksum of the samples
}

// flacFrameHead is the header of a frame of one channel and 16 bits (RFC 9639, section 9.1).
func flacFrameHead(number uint64, block int) []byte {
	b := []byte{0xFF, 0xF8, 0x70, 0x08}
	b = append(b, flacNumber(number)...)
	b = binary.BigEndian.AppendUint16(b, uint16(block-1))
	return append(b, crc8(b))
}

// flacConstant is a frame of one constant value.
func flacConstant(number uint64, block int, value int16) []byte {
	b := append(flacFrameHead(number, block), 0)
	b = binary.BigEndian.AppendUint16(b, uint16(value))
	return binary.BigEndian.AppendUint16(b, crc16(0, b))
}

// flacNumber codes a number like UTF-8 in up to seven bytes (RFC 9639, section 9.1.5).
func flacNumber(n uint64) []byte {
	if n < 0x80 {
		return []byte{byte(n)}
	}
	var rest []byte
	for limit := uint64(0x20); ; limit >>= 1 {
		rest = append([]byte{0x80 | byte(n&0x3F)}, rest...)
		n >>= 6
		if n < limit {
			return append([]byte{byte(0xFF<<(7-len(rest))) | byte(n)}, rest...)
		}
	}
}

// oggPages returns where the pages of an Ogg file start, and its size at the end.
func oggPages(b []byte) []int {
	at := []int{0}
	for n := 0; n+27 <= len(b); at = append(at, n) {
		size := 27 + int(b[n+26])
		for _, k := range b[n+27 : n+27+int(b[n+26])] {
			size += int(k)
		}
		n += size
	}
	return at
}

func TestFLACNumbers(t *testing.T) {
	for shift := range 36 {
		for _, n := range []uint64{1<<shift - 1, 1 << shift, 1<<shift | 5} {
			b := flacNumber(n)
			if got, used := codedNumber(b); uint64(got) != n || used != len(b) {
				t.Errorf("%d is coded % x, which is %d in %d bytes", n, b, got, used)
			}
		}
	}
}
