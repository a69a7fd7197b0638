package decode

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"runtime"
	"strings"
	"testing"
	"time"

	"blowdraw/decode/programs"
)

// What no recording has is refused in one line, with a hint.
func TestImpossibleClaims(t *testing.T) {
	sound := chunk("data", make([]byte, 6000))
	frames := append(flacConstant(0, 4096, 7), flacConstant(1, 4096, 8)...)
	_, ogg := fixture(t, "take.ogg")
	// Channels and rate stand 39 and 40 bytes in (Vorbis I, 4.2.2).
	vorbis := func(rate uint32, channels byte) []byte {
		b := append([]byte(nil), ogg...)
		b[39] = channels
		binary.LittleEndian.PutUint32(b[40:], rate)
		sealOgg(b[:oggPages(b)[1]])
		return b
	}
	wav := func(tag, channels int, rate uint32, bits int) []byte {
		return riffOf(wavFormat(tag, channels, rate, bits), sound)
	}
	flac := func(rate, bits int) []byte { return append(flacHead(rate, 1, bits, 4096, 8192), frames...) }
	for name, c := range map[string]struct {
		file []byte
		say  string
	}{
		"WAV of 0 bits":         {wav(wavPCM, 1, 8000, 0), "0 bytes a frame for 1 channels of 0 bytes"},
		"WAV of 40 bits":        {wav(wavPCM, 1, 8000, 40), "5 bytes a frame for 1 channels of 5 bytes"},
		"WAV of 65535 bits":     {wav(wavPCM, 2, 8000, 65535), "bytes a frame for 2 channels of 8192 bytes"},
		"floats of 16 bits":     {wav(wavFloat, 1, 8000, 16), "2 bytes a frame for 1 channels of 2 bytes"},
		"WAV of 0 Hz":           {wav(wavPCM, 1, 0, 16), "sampling rate: 0 Hz"},
		"WAV of 1 Hz":           {wav(wavPCM, 1, 1, 16), "sampling rate: 1 Hz"},
		"WAV of 3999 Hz":        {wav(wavPCM, 2, 3999, 16), "sampling rate: 3999 Hz"},
		"WAV of 768001 Hz":      {wav(wavPCM, 2, 768001, 16), "sampling rate: 768001 Hz"},
		"WAV of 4 GHz":          {wav(wavPCM, 2, math.MaxUint32, 16), "sampling rate: 4294967295 Hz"},
		"WAV of no channel":     {wav(wavPCM, 0, 8000, 16), "number of channels: 0"},
		"WAV of 65 channels":    {wav(wavPCM, 65, 8000, 16), "number of channels: 65"},
		"WAV of 65535 channels": {wav(wavPCM, 65535, 8000, 8), "number of channels: 65535"},
		"MP3 in WAV of 2 Hz":    {wav(wavMP3, 1, 2, 0), "sampling rate: 2 Hz"},
		"FLAC of 1 Hz":          {flac(1, 16), "sampling rate: 1 Hz"},
		"FLAC of 1048575 Hz":    {flac(1<<20-1, 16), "sampling rate: 1048575 Hz"},
		"FLAC of 3 bits":        {flac(8000, 3), "sample size: 3 bits"},
		"Ogg Vorbis of 1 Hz":    {vorbis(1, 2), "sampling rate: 1 Hz"},
		"Ogg of 65 channels":    {vorbis(44100, 65), "number of channels: 65"},
		"Ogg Vorbis of 4 GHz":   {vorbis(math.MaxUint32, 2), "sampling rate: 4294967295 Hz"},
	} {
		_, err := Open(writeTemp(t, "take", c.file), Options{Rate: 22050})
		var e *Error
		if !errors.As(err, &e) || !strings.Contains(e.Problem, c.say) || e.Hint == "" ||
			strings.Contains(e.Error(), "\n") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// The limits themselves are read.
func TestPossibleClaims(t *testing.T) {
	sound := make([]byte, 64000)
	frames := append(flacConstant(0, 4096, 7), flacConstant(1, 4096, 8)...)
	for name, file := range map[string][]byte{
		"WAV of 4000 Hz":     riffOf(wavFormat(wavPCM, 1, 4000, 16), chunk("data", sound)),
		"WAV of 768000 Hz":   riffOf(wavFormat(wavPCM, 1, 768000, 16), chunk("data", sound)),
		"WAV of 64 channels": riffOf(wavFormat(wavPCM, 64, 8000, 16), chunk("data", sound)),
		"FLAC of 4000 Hz":    append(flacHead(4000, 1, 16, 4096, 8192), frames...),
		"FLAC of 768000 Hz":  append(flacHead(768000, 1, 16, 4096, 8192), frames...),
	} {
		path := writeTemp(t, "take", file)
		for _, rate := range []int{0, 22050} {
			c, _, warnings, err := Load(path, Options{Rate: rate})
			if err != nil || len(warnings) > 0 || len(c.Samples) == 0 {
				t.Errorf("%s: %d samples, warnings %q, error %v", name, len(c.Samples), warnings, err)
			}
		}
	}
}

// What ffmpeg hands over is bound to the same. Sun's audio files (.snd: offset, size,
// encoding 3 for 16 bits, rate, channels; common practice, no source) can claim anything.
func TestImpossibleClaimsThroughFFmpeg(t *testing.T) {
	programs.Need(t, "ffmpeg")
	au := func(rate, channels uint32) []byte {
		b := []byte(".snd")
		for _, v := range []uint32{24, 6400, 3, rate, channels} {
			b = binary.BigEndian.AppendUint32(b, v)
		}
		return append(b, make([]byte, 6400)...)
	}
	for _, rate := range []uint32{1, 3999, 1 << 20} {
		_, err := Open(writeTemp(t, "take.au", au(rate, 1)), Options{})
		var e *Error
		say := fmt.Sprintf("sampling rate: %d Hz", rate)
		if !errors.As(err, &e) || !strings.Contains(e.Problem, say) || e.Hint == "" {
			t.Errorf("%d Hz: %v", rate, err)
		}
	}
	if _, _, _, err := Load(writeTemp(t, "take.au", au(8000, 2)), Options{}); err != nil {
		t.Error(err)
	}
}

// Headers that claim 2⁶⁰ samples or so: what is there is read, and no more memory taken
// than that needs.
func TestClaimedLengths(t *testing.T) {
	sound := make([]byte, 16000)
	for i := range sound {
		sound[i] = byte(i)
	}
	format := wavFormat(wavPCM, 1, 8000, 16)
	claims := func(n uint32, b []byte) []byte { // the data chunk's size
		at := bytes.Index(b, []byte("data"))
		binary.LittleEndian.PutUint32(b[at+4:], n)
		return b
	}
	var ds64 [28]byte
	binary.LittleEndian.PutUint64(ds64[8:], 1<<60)
	rf64 := claims(math.MaxUint32, riffOf(chunk("ds64", ds64[:]), format, chunk("data", sound)))
	copy(rf64, "RF64")
	frames := append(flacConstant(0, 4096, 7), flacConstant(1, 4096, 8)...)
	_, ogg := fixture(t, "take.ogg")
	ogg = append([]byte(nil), ogg...)
	pages := oggPages(ogg)
	last := ogg[pages[len(pages)-2]:]
	binary.LittleEndian.PutUint64(last[6:], 1<<60)
	sealOgg(last)
	for name, file := range map[string][]byte{
		"WAV":        claims(0xF0000000, riffOf(format, chunk("data", sound))),
		"RF64":       rf64,
		"FLAC":       append(flacHead(8000, 1, 16, 4096, 1<<36-1), frames...),
		"Ogg Vorbis": ogg,
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		c, _, _, err := Load(writeTemp(t, "take", file), Options{})
		runtime.ReadMemStats(&after)
		if err != nil || len(c.Samples) < 8000 || len(c.Samples) > 100000 {
			t.Errorf("%s: %d samples, %v", name, len(c.Samples), err)
		}
		if n := (after.TotalAlloc - before.TotalAlloc) >> 20; n > 48 {
			t.Errorf("%s of %d bytes: %d MiB allocated", name, len(file), n)
		}
		s, err := Open(writeTemp(t, "take", file), Options{})
		if err != nil {
			t.Fatal(name, err)
		}
		if d := s.Info().Duration; d > 3600 {
			t.Errorf("%s of %d bytes: %g s", name, len(file), d)
		}
		s.Close()
	}
}

// heardOf reads a recording up to a number of samples and returns how many came.
func heardOf(t *testing.T, path string, most int) (int, error) {
	t.Helper()
	s, err := Open(path, Options{})
	if err != nil {
		return 0, err
	}
	defer s.Close()
	buf := make([]float64, 1<<16)
	for n := 0; ; {
		k, err := s.Read(buf)
		if n += k; err == io.EOF || n > most {
			return n, nil
		}
		if err != nil {
			return n, err
		}
	}
}

// A false position in the middle does not make days of silence.
func TestFalsePositions(t *testing.T) {
	const rate = 8000
	flac := append(flacHead(rate, 1, 16, 4096, 0), flacConstant(0, 4096, 7)...)
	for _, number := range []uint64{1 << 20, 1 << 25, 1 << 30} {
		far := append(append([]byte(nil), flac...), flacConstant(number, 4096, 8)...)
		n, err := heardOf(t, writeTemp(t, "far.flac", far), 1<<24)
		if err != nil || n != 4096 {
			t.Errorf("FLAC with frame %d after frame 0: %d samples, %v", number, n, err)
		}
	}
	// Many gaps of just under the longest: silence no longer than the sound and 30 s.
	many := append([]byte(nil), flac...)
	for i := range uint64(200) {
		many = append(many, flacConstant(50*(i+1), 4096, 8)...)
	}
	n, err := heardOf(t, writeTemp(t, "many.flac", many), 1<<24)
	if err != nil || n > 2*200*4096+longestGap*rate {
		t.Errorf("FLAC of 200 gaps: %d samples, %v", n, err)
	}

	_, ogg := fixture(t, "take.ogg")
	pages := oggPages(ogg)
	if len(pages) < 6 {
		t.Fatalf("%d pages", len(pages))
	}
	// The first page of audio, one page lost, and the next 100 s late.
	far := append([]byte(nil), ogg[:pages[len(pages)-3]]...)
	late := append([]byte(nil), ogg[pages[len(pages)-2]:]...)
	late[5] &^= 4 // not the last page
	position := binary.LittleEndian.Uint64(late[6:])
	rateOf := uint64(binary.LittleEndian.Uint32(ogg[40:]))
	binary.LittleEndian.PutUint64(late[6:], position+100*rateOf)
	sealOgg(late)
	n, err = heardOf(t, writeTemp(t, "far.ogg", append(far, late...)), 1<<26)
	if err != nil || n > int(position)+longestGap*int(rateOf) {
		t.Errorf("Ogg with a page 100 s late: %d samples, %v", n, err)
	}
}

// within fails where f takes longer than a time in which a slow machine does it easily.
func within(t *testing.T, limit time.Duration, what string, f func()) {
	t.Helper()
	start := time.Now()
	f()
	if d := time.Since(start); d > limit {
		t.Errorf("%s: %v", what, d)
	} else {
		t.Logf("%s: %v", what, d)
	}
}

// Bytes that look like frames, pages or tags at every turn cost no more than their number.
func TestFalseFrames(t *testing.T) {
	// FLAC: headers with a good checksum, each followed by nothing but others.
	flac := append(flacHead(8000, 1, 16, 65535, 0), flacConstant(0, 65535, 7)...)
	for i := uint64(0); len(flac) < 2<<20; i++ {
		flac = append(flac, flacFrameHead(i%100, 65535)...)
		flac = append(flac, 0x02) // verbatim: 65535 samples of 16 bits follow, it says
	}
	// Ogg: after the headers, pages of up to 64 KB that overlap.
	_, ogg := fixture(t, "take.ogg")
	ogg = append([]byte(nil), ogg[:oggPages(ogg)[3]]...)
	for len(ogg) < 2<<20 {
		ogg = append(ogg, "OggS\x00"...)
		ogg = append(ogg, bytes.Repeat([]byte{0xFF}, 27)...)
	}
	// Tags of ten bytes before the sound.
	_, mp3 := fixture(t, "take.mp3")
	tags := append(bytes.Repeat([]byte("ID3\x04\x00\x00\x00\x00\x00\x00"), 2_000_000), mp3...)
	// MP3: frames of 24 bytes, each of which asks for more values than a frame has.
	var small []byte
	frame := make([]byte, 24)
	copy(frame, []byte{0xFF, 0xF2, 0x14, 0x40})
	h, _ := parseMP3Header(frame)
	side := frame[h.sideStart() : h.sideStart()+h.sideSize()]
	for _, at := range h.records() {
		setBits(side, at, 12, 4)
		setBits(side, at+12, 9, 511)
		setBits(side, at+34, 10, 1<<10-1)
	}
	for len(small) < 40<<10 {
		small = append(small, frame...)
	}
	for name, file := range map[string][]byte{"FLAC": flac, "Ogg": ogg, "tags": tags, "MP3": small} {
		within(t, 20*time.Second, name, func() {
			n, err := heardOf(t, writeTemp(t, "false", file), 1<<26)
			if n > 1<<22 {
				t.Errorf("%s: %d samples, %v", name, n, err)
			}
		})
	}
}

// A small file may hold days of sound: one second of them costs one second.
func TestSectionOfConstantFrames(t *testing.T) {
	const rate, block, frames = 8000, 65535, 60_000 // 5 days and 16 hours in 1 MB
	b := flacHead(rate, 1, 16, block, block*frames)
	for i := range uint64(frames) {
		b = append(b, flacConstant(i, block, int16(i))...)
	}
	path := writeTemp(t, "long.flac", b)
	within(t, 5*time.Second, "sections", func() {
		for _, from := range []float64{0, 1000, 400_000} {
			c, info, warnings, err := Load(path, Options{From: from, To: from + 1})
			if err != nil || len(c.Samples) != rate || len(warnings) > 0 {
				t.Fatalf("%d samples, warnings %q, error %v", len(c.Samples), warnings, err)
			}
			if want := float64(int16(from*rate/block)) / (1 << 15); c.Samples[0] != want {
				t.Errorf("at %g s: %g, want %g", from, c.Samples[0], want)
			}
			if info.Duration != float64(block)*frames/rate {
				t.Errorf("%g s", info.Duration)
			}
		}
	})
}

// What is too long to be held is refused: at once where the header says so, and else as
// soon as it turns out.
func TestTooLongToLoad(t *testing.T) {
	const rate, block, frames = 8000, 65535, 60_000
	sound := []byte{}
	for i := range uint64(frames) {
		sound = append(sound, flacConstant(i, block, 7)...)
	}
	for name, claim := range map[string]uint64{"true": block * frames, "false": 100} {
		path := writeTemp(t, "long.flac", append(flacHead(rate, 1, 16, block, claim), sound...))
		within(t, 10*time.Second, "a "+name+" length", func() {
			most := 10 * rate
			if name == "true" {
				most = mostLoaded
			}
			_, _, _, err := load(path, Options{}, most)
			var e *Error
			if !errors.As(err, &e) || e.Path != path || e.Hint == "" ||
				!strings.Contains(e.Problem, "too long to be held") {
				t.Errorf("a %s length: %v", name, err)
			}
			if name == "false" {
				return
			}
			if c, _, _, err := load(path, Options{From: 50, To: 59}, most); err != nil || len(c.Samples) != 9*rate {
				t.Errorf("%d samples, %v", len(c.Samples), err)
			}
		})
	}
}
