package vorbis

import (
	"bytes"
	"encoding/binary"
	"io"
	"runtime"
	"testing"
	"time"
)

// Streams made bit by bit: as small as the format allows, with every kind of codebook,
// residue and mapping.

// bitWriter packs numbers, the lowest bit first (2.1).
type bitWriter struct {
	b []byte
	n int // bits
}

func (w *bitWriter) put(v uint64, bits int) {
	for i := range bits {
		if w.n%8 == 0 {
			w.b = append(w.b, 0)
		}
		w.b[w.n/8] |= byte(v>>i&1) << (w.n % 8)
		w.n++
	}
}

func (w *bitWriter) list(bits int, values ...uint64) {
	for _, v := range values {
		w.put(v, bits)
	}
}

// header starts a header packet (4.2.1).
func header(kind byte) *bitWriter {
	return &bitWriter{b: append([]byte{kind}, "vorbis"...), n: 56}
}

// madeIdentification is a header with blocks of 2^small and 2^large samples (4.2.2).
func madeIdentification(channels, rate, small, large int) []byte {
	w := header(1)
	w.put(0, 32)
	w.put(uint64(channels), 8)
	w.put(uint64(rate), 32)
	w.list(32, 0, 0, 0)
	w.list(4, uint64(small), uint64(large))
	w.put(1, 1)
	return w.b
}

// book writes a codebook whose entries all have one length (3.2.1). Values of kind 1
// and 2 are -1 and 1.
func (w *bitWriter) book(dims, entries, length, kind int, ordered, sparse bool) {
	w.put(0x564342, 24)
	w.put(uint64(dims), 16)
	w.put(uint64(entries), 24)
	if ordered {
		w.put(1, 1)
		w.put(uint64(length-1), 5)
		w.put(uint64(entries), ilog(entries))
	} else {
		w.list(1, 0, uint64(bit(sparse)))
		for range entries {
			if sparse {
				w.put(1, 1)
			}
			w.put(uint64(length-1), 5)
		}
	}
	w.put(uint64(kind), 4)
	if kind == 0 {
		return
	}
	w.put(1<<31|1|788<<21, 32) // from -1
	w.put(2|788<<21, 32)       // in steps of 2
	w.put(0, 4)                // one bit a value
	w.put(0, 1)
	values := entries * dims
	if kind == 1 {
		values = lookup1Values(entries, dims)
	}
	for i := range values {
		w.put(uint64(i&1), 1)
	}
}

func bit(b bool) int {
	if b {
		return 1
	}
	return 0
}

// madeSetup is a setup header for one or two channels (4.2.4) and blocks of 64 samples
// and more.
func madeSetup(channels int) []byte {
	w := header(5)
	w.put(4, 8) // five books
	w.book(1, 2, 1, 0, false, false)
	w.book(1, 16, 4, 0, true, false)
	w.book(2, 4, 2, 0, false, true)
	w.book(2, 4, 2, 1, false, false)
	w.book(4, 2, 1, 2, true, false)
	w.put(0, 6) // time domain: one placeholder
	w.put(0, 16)
	w.put(0, 6) // one floor
	w.put(1, 16)
	w.put(2, 5) // two partitions of class 0
	w.list(4, 0, 0)
	w.put(1, 3) // two dimensions
	w.put(1, 2) // two subclasses
	w.put(0, 8) // their book
	w.list(8, 2, 0)
	w.put(0, 2)             // multiplier 1
	w.put(5, 4)             // positions of five bits
	w.list(5, 4, 20, 8, 12) //
	w.put(2, 6)             // three residues
	for kind := range uint64(3) {
		w.put(kind, 16)
		w.list(24, 0, uint64(32*channels), 7) // partitions of eight
		w.put(1, 6)                           // two classes
		w.put(2, 8)                           // by book 2
		w.put(1, 3)
		w.put(0, 1)
		w.put(3, 3)
		w.put(0, 1)
		w.list(8, 3, 3, 4)
	}
	w.put(2, 6) // three mappings
	for m := range uint64(3) {
		w.put(0, 16)
		submaps := m == 2
		w.put(uint64(bit(submaps)), 1)
		if submaps {
			w.put(1, 4)
		}
		coupled := channels == 2 && m == 1
		w.put(uint64(bit(coupled)), 1)
		if coupled {
			w.put(0, 8)
			w.list(1, 0, 1)
		}
		w.put(0, 2)
		if submaps {
			for c := range channels {
				w.put(uint64(c), 4)
			}
			w.list(8, 0, 0, 0)
		}
		w.list(8, 0, 0, m)
	}
	w.put(3, 6) // four modes
	for m := range uint64(4) {
		w.put(m&1, 1)
		w.list(16, 0, 0)
		w.put(min(m, 2), 8)
	}
	w.put(1, 1)
	return w.b
}

// madeAudio is an audio packet of a mode, filled with bits from a seed.
func madeAudio(mode, size int, seed uint32) []byte {
	w := &bitWriter{}
	w.put(0, 1)
	w.put(uint64(mode), 2)
	if mode&1 == 1 {
		w.put(3, 2)
	}
	for len(w.b) < size {
		seed = seed*1664525 + 1013904223
		w.put(uint64(seed>>24), 8)
	}
	return w.b
}

// oggPage is a page of whole packets with its checksum (RFC 3533, section 6).
func oggPage(flags byte, granule int64, number uint32, packets ...[]byte) []byte {
	b := append([]byte("OggS\x00"), flags)
	le := binary.LittleEndian
	b = le.AppendUint64(b, uint64(granule))
	b = le.AppendUint32(b, 7)
	b = le.AppendUint32(b, number)
	b = append(b, 0, 0, 0, 0)
	var lacing, body []byte
	for _, p := range packets {
		body = append(body, p...)
		for n := len(p); ; n -= 255 {
			lacing = append(lacing, byte(min(n, 255)))
			if n < 255 {
				break
			}
		}
	}
	b = append(append(append(b, byte(len(lacing))), lacing...), body...)
	le.PutUint32(b[22:], crc(0, b))
	return b
}

// madeStream is a whole file.
func madeStream(channels int) []byte {
	b := oggPage(flagFirst, 0, 0, madeIdentification(channels, 8000, 6, 7))
	comment := append([]byte("\x03vorbis"), make([]byte, 8)...)
	b = append(b, oggPage(0, 0, 1, append(comment, 1), madeSetup(channels))...)
	position := int64(0)
	for page := range uint32(4) {
		var packets [][]byte
		for k := range 4 {
			mode := (int(page) + k) % 4
			packets = append(packets, madeAudio(mode, 20, page*4+uint32(k)))
			position += 40
		}
		flags := byte(0)
		if page == 3 {
			flags = flagLast
		}
		b = append(b, oggPage(flags, position, page+2, packets...)...)
	}
	return b
}

// What is made here is a stream: most packets yield sound.
func TestMadeStream(t *testing.T) {
	for channels := 1; channels <= 2; channels++ {
		b := madeStream(channels)
		v, err := Open(bytes.NewReader(b), int64(len(b)))
		if err != nil {
			t.Fatal(err)
		}
		loud, total := 0, 0
		buf := make([]float64, 128)
		for {
			n, err := v.Read(buf)
			if total += n; err == io.EOF {
				break
			} else if err != nil {
				t.Fatal(err)
			}
			for _, x := range buf[:n*channels] {
				if x != 0 {
					loud++
				}
			}
		}
		if total < 300 || loud < 100 || v.Damages() > 0 {
			t.Errorf("%d channels: %d samples, %d not zero, %d damages", channels, total, loud, v.Damages())
		}
	}
}

// A header of some bytes that asks for millions of code words costs what it holds.
func TestCodebooksThatAskForMuch(t *testing.T) {
	w := header(5)
	w.put(255, 8)
	for range 40 {
		w.book(1, 1<<20, 20, 0, true, false)
	}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	start := time.Now()
	var s setup
	if err := s.identification(madeIdentification(1, 8000, 6, 7)); err != nil {
		t.Fatal(err)
	}
	err := s.setupHeader(w.b)
	runtime.ReadMemStats(&after)
	if n := (after.TotalAlloc - before.TotalAlloc) >> 20; err == nil || n > 64 {
		t.Errorf("%d bytes of header: %d MiB and %v, error %v", len(w.b), n, time.Since(start), err)
	}
}
