package decode

import (
	"bytes"
	"encoding/binary"
	"io"
	"math"
	"strings"
	"testing"
)

// What the targets here read is at most so many bytes, and of each recording so many
// samples, so that the engine tries thousands of files a second.
const (
	mostFuzzed = 4096
	mostHeard  = 5000
)

// hearBytes opens a recording in memory and reads its first samples.
func hearBytes(t *testing.T, b []byte, opt Options) ([]float64, *Stream, error) {
	t.Helper()
	s, err := openInput("take", &input{r: bytes.NewReader(b), size: int64(len(b))}, opt)
	if err != nil {
		checkError(t, err)
		return nil, nil, err
	}
	x := make([]float64, mostHeard)
	n := 0
	for n < len(x) && err == nil {
		var k int
		k, err = s.Read(x[n:])
		n += k
	}
	for i, v := range x[:n] {
		if v-v != 0 {
			t.Fatalf("sample %d is %g", i, v)
		}
	}
	if err != nil && err != io.EOF {
		checkError(t, err)
		return x[:n], s, err
	}
	s.Warnings()
	if i := s.Info(); i.Rate < minRate || i.Rate > maxRate || i.Channels < 1 || i.Channels > maxChannels {
		t.Fatalf("%+v", i)
	}
	return x[:n], s, nil
}

// checkError checks that an error names the file and says something in one line.
func checkError(t *testing.T, err error) {
	t.Helper()
	e, ok := err.(*Error)
	if !ok || e.Path != "take" || e.Problem == "" || strings.Contains(e.Problem, "\n") {
		t.Fatalf("error %#v", err)
	}
}

// Any bytes at all.
func FuzzOpen(f *testing.F) {
	for _, name := range fixtures {
		_, b := fixture(f, name)
		f.Add(b[:min(len(b), 3000)])
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) == 0 || len(b) > mostFuzzed {
			return
		}
		opt := Options{To: 0.08} // at its own rate: making a resampling filter takes milliseconds
		if len(b)%2 == 0 {
			opt = Options{From: 0.05, To: 0.08, Channel: Left}
		}
		hearBytes(t, b, opt)
	})
}

// wavSeeds are WAV files of every kind of sample and chunk that writers leave
// (Multimedia Programming Interface 1.0, 1991; WAVE_FORMAT_EXTENSIBLE, 2001; EBU Tech
// 3285 and 3306; smpl, cue, id3 and PEAK are common practice, no source).
func wavSeeds() [][]byte {
	sound := make([]byte, 240)
	for i := range sound {
		sound[i] = byte(7 * i)
	}
	data := chunk("data", sound)
	var seeds [][]byte
	for _, k := range [][3]int{
		{wavPCM, 1, 8}, {wavPCM, 2, 16}, {wavPCM, 3, 24}, {wavPCM, 1, 32},
		{wavFloat, 2, 32}, {wavFloat, 1, 64}, {0x0011, 1, 4},
	} {
		seeds = append(seeds, riffOf(wavFormat(k[0], k[1], 8000, k[2]), data))
	}
	extensible := wavFormat(wavExtensible, 2, 44100, 24)
	extensible = append(extensible, 22, 0, 20, 0, 3, 0, 0, 0)
	extensible = append(extensible, 1, 0, 0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71)
	binary.LittleEndian.PutUint32(extensible[4:], 40)
	format := wavFormat(wavPCM, 1, 8000, 16)
	var ds64 [28]byte
	binary.LittleEndian.PutUint64(ds64[8:], uint64(len(sound)))
	rf64 := riffOf(chunk("ds64", ds64[:]), format, data)
	copy(rf64, "RF64")
	binary.LittleEndian.PutUint32(rf64[bytes.Index(rf64, []byte("data"))+4:], math.MaxUint32)
	odd := []byte("note\x03\x00\x00\x00abc") // without its padding byte
	mp3 := chunk("data", append([]byte{0xFF, 0xFB, 0x10, 0xC0}, make([]byte, 200)...))
	return append(seeds,
		riffOf(extensible, data),
		rf64,
		riffOf(wavFormat(wavMP3, 1, 44100, 0), chunk("fact", make([]byte, 4)), mp3),
		riffOf(chunk("JUNK", make([]byte, 28)), chunk("bext", make([]byte, 602)), format,
			chunk("fact", make([]byte, 4)), data),
		riffOf(format, chunk("LIST", []byte("INFOISFT\x03\x00\x00\x00abc\x00")), odd, data),
		riffOf(format, data, chunk("cue ", make([]byte, 28)), chunk("smpl", make([]byte, 36)),
			chunk("PEAK", make([]byte, 16)), chunk("id3 ", []byte("ID3\x04\x00\x00\x00\x00\x00\x00"))),
		riffOf(format, chunk("data", nil), chunk("LIST", []byte("adtl"))),
		riffOf(format, chunk("data", nil), sound),
	)
}

// A WAV file: sections are slices of the whole, and a pipe gives what the file gives.
func FuzzWAV(f *testing.F) {
	for _, b := range wavSeeds() {
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) < 12 || len(b) > 1500 || string(b[8:12]) != "WAVE" {
			return
		}
		whole, s, err := hearBytes(t, b, Options{})
		if err != nil || s.Info().Format != formatWAV {
			return
		}
		if len(whole) > len(b) {
			t.Fatalf("%d samples in %d bytes", len(whole), len(b))
		}
		const from = 5
		part, _, err := hearBytes(t, b, Options{From: from / float64(s.Rate())})
		for i := range min(len(part), max(0, len(whole)-from)) {
			if part[i] != whole[from+i] {
				t.Fatalf("sample %d of a section is %g, of the whole %g", i, part[i], whole[from+i])
			}
		}
		if len(whole) > from && (err != nil || len(part) != len(whole)-from && len(whole) < mostHeard) {
			t.Fatalf("%d samples, %d from sample %d on, %v", len(whole), len(part), from, err)
		}
		if p, err := openPipedWAV(bytes.NewReader(b)); err == nil {
			buf := make([]float64, 64*p.head.channels)
			for range 100 {
				if n, err := p.read(buf); n < 0 || n == 0 && err == nil {
					t.Fatalf("%d samples, %v", n, err)
				} else if err != nil {
					break
				}
			}
		}
	})
}

// sealFLAC writes the checksums of what looks like frames, each up to where the next
// begins.
func sealFLAC(b []byte) []byte {
	b = append([]byte(nil), b...)
	start := -1
	end := func(at int) {
		if start >= 0 && at-start >= 8 {
			binary.BigEndian.PutUint16(b[at-2:], crc16(0, b[start:at-2]))
		}
	}
	for i := 42; i+8 <= len(b); i++ {
		if b[i] != 0xFF || b[i+1]&0xFE != 0xF8 {
			continue
		}
		size := flacHeaderSize(b[i:])
		if size == 0 {
			continue
		}
		end(i)
		start = i
		b[i+size-1] = crc8(b[i : i+size-1])
		i += size - 1
	}
	end(len(b))
	return b
}

// flacHeaderSize is the size in bytes of a frame header whose checksum may be wrong, 0
// where there is none.
func flacHeaderSize(b []byte) int {
	_, n := codedNumber(b[4:])
	if n == 0 {
		return 0
	}
	size := 4 + n + 1 + [16]int{6: 1, 7: 2}[b[2]>>4] + [16]int{12: 1, 13: 2, 14: 2}[b[2]&15]
	if size > len(b) {
		return 0
	}
	return size
}

// A FLAC file, past the checksums.
func FuzzFLAC(f *testing.F) {
	b := append(flacHead(8000, 1, 16, 4096, 8192), flacConstant(0, 4096, 7)...)
	f.Add(append(b, flacConstant(1, 4096, 8)...))
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) < 50 || len(b) > 2500 || string(b[:4]) != "fLaC" {
			return
		}
		b = sealFLAC(b)
		hearBytes(t, b, Options{})
		hearBytes(t, b, Options{From: 0.1, To: 0.2})
	})
}

// MP3 frames. An encoder's tag and frames of every mode are in testdata/fuzz.
func FuzzMP3(f *testing.F) {
	f.Add(append([]byte{0xFF, 0xFB, 0x10, 0xC0}, make([]byte, 100)...))
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) < 24 || len(b) > 1200 {
			return
		}
		if format, err := sniff(b); err != nil || format != formatMP3 {
			return
		}
		// A frame takes a fraction of a millisecond, so it is a start or a section.
		opt := Options{To: 0.025}
		if len(b)%3 == 0 {
			opt = Options{From: 0.03, To: 0.04}
		}
		x, s, err := hearBytes(t, b, opt)
		if err == nil && len(x) > (1+len(b)/24)*1152 {
			t.Fatalf("%d samples in %d bytes (%+v)", len(x), len(b), s.Info())
		}
	})
}

// rounding is how far a sum of two rounded shares may be off.
const rounding = 1e-15

// A name that reads as a channel is written so that it reads as the same.
func FuzzParseChannel(f *testing.F) {
	for _, s := range []string{"", "mix", "LEFT", "side", "left-0.25right", "right-10left", "left-1e-1right",
		"left--1right", "left-NaNright"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		c, err := ParseChannel(s)
		if err != nil {
			return
		}
		if back, err := ParseChannel(c.String()); err != nil || back != c || !(c.less >= 0 && c.less <= mostLess) {
			t.Errorf("%q is %+v, written %s, which is %+v (%v)", s, c, c, back, err)
		}
		x := appendMono(nil, []float64{1, -1, 0.5, 0.5}, 2, c)
		if len(x) != 2 || math.Abs(x[0]) > 1+rounding || math.Abs(x[1]) > 1 {
			t.Errorf("%q makes %v", s, x)
		}
	})
}

func FuzzParseTime(f *testing.F) {
	for _, s := range []string{"83.4", "1:23.4", "1:02:03", "1:59.999", "9999999.99", "x"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		v, err := ParseTime(s)
		if err != nil {
			return
		}
		// As messages say it, it is the same time, rounded down to a tenth.
		if back, err := ParseTime(Clock(v)); err != nil || !(v >= 0 && back <= v+0.0011 && back > v-0.1-1e-6) {
			t.Errorf("ParseTime(%q) = %g, said as %s, which is %g (%v)", s, v, Clock(v), back, err)
		}
	})
}
