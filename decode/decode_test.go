package decode

import (
	"bytes"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// tones returns a test signal: two sines and a little noise, from a fixed
// seed, peak below full scale.
func tones(rate, n int) []float64 {
	x := make([]float64, n)
	seed := uint32(1)
	for i := range x {
		seed = seed*1664525 + 1013904223
		t := float64(i) / float64(rate)
		x[i] = 0.4*math.Sin(2*math.Pi*440*t) + 0.2*math.Sin(2*math.Pi*1234.5*t) +
			0.02*(float64(seed>>8)/(1<<24)-0.5)
	}
	return x
}

func writeTemp(t testing.TB, name string, b []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, b, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func wavBytes(t testing.TB, c Clip) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := WriteWAV(&b, c); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestLoadWrittenWAV(t *testing.T) {
	x := tones(22050, 30000)
	path := writeTemp(t, "take.wav", wavBytes(t, Clip{Rate: 22050, Samples: x}))
	c, info, warnings, err := Load(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if info.Format != "WAV" || info.Rate != 22050 || info.Channels != 1 || info.Duration != 30000.0/22050 {
		t.Errorf("info %+v", info)
	}
	if len(warnings) != 0 || len(c.Samples) != len(x) || c.Start != 0 {
		t.Fatalf("warnings %q, %d samples from %g s", warnings, len(c.Samples), c.Start)
	}
	for i := range x {
		if math.Abs(c.Samples[i]-x[i]) > 0.5/(1<<15)+1e-12 {
			t.Fatalf("sample %d: %g, want %g", i, c.Samples[i], x[i])
		}
	}
}

func TestSectionOfWAVIsSlice(t *testing.T) {
	x := tones(44100, 4*44100)
	path := writeTemp(t, "take.wav", wavBytes(t, Clip{Rate: 44100, Samples: x}))
	for _, rate := range []int{0, 22050, 48000, 11025, 44099} {
		whole, _, _, err := Load(path, Options{Rate: rate})
		if err != nil {
			t.Fatal(err)
		}
		checkSections(t, path, whole, Options{Rate: rate})
	}
}

// checkSections compares sections with slices of the whole, bit for bit.
func checkSections(t *testing.T, path string, whole Clip, opt Options) {
	t.Helper()
	length := float64(len(whole.Samples)) / float64(whole.Rate)
	for _, s := range [][2]float64{
		{0, 0.5}, {0.001, 0.9}, {0.7, 1.1}, {length / 2, length/2 + 0.3}, {1, 0}, {length - 0.2, length + 5},
	} {
		opt.From, opt.To = s[0], s[1]
		got, _, _, err := Load(path, opt)
		if err != nil {
			t.Errorf("%s: section %v: %v", filepath.Base(path), s, err)
			continue
		}
		lo := int(math.Round(s[0] * float64(whole.Rate)))
		hi := len(whole.Samples)
		if s[1] > 0 {
			hi = min(hi, int(math.Round(s[1]*float64(whole.Rate))))
		}
		if len(got.Samples) != hi-lo || got.Start != float64(lo)/float64(whole.Rate) {
			t.Errorf("%s: section %v at %d Hz: %d samples from %g s, want %d",
				filepath.Base(path), s, whole.Rate, len(got.Samples), got.Start, hi-lo)
			continue
		}
		for i, v := range got.Samples {
			if v != whole.Samples[lo+i] {
				t.Errorf("%s: section %v at %d Hz: sample %d is %g, of the whole %g",
					filepath.Base(path), s, whole.Rate, i, v, whole.Samples[lo+i])
				break
			}
		}
	}
}

func TestReadInSmallPieces(t *testing.T) {
	path := writeTemp(t, "take.wav", wavBytes(t, Clip{Rate: 8000, Samples: tones(8000, 20000)}))
	for _, rate := range []int{8000, 22050} {
		whole, _, _, err := Load(path, Options{Rate: rate})
		if err != nil {
			t.Fatal(err)
		}
		s, err := Open(path, Options{Rate: rate})
		if err != nil {
			t.Fatal(err)
		}
		var got []float64
		for size := 1; ; size = size%977 + 7 {
			buf := make([]float64, size)
			n, err := s.Read(buf)
			got = append(got, buf[:n]...)
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		s.Close()
		if len(got) != len(whole.Samples) {
			t.Fatalf("%d samples, want %d", len(got), len(whole.Samples))
		}
		for i := range got {
			if got[i] != whole.Samples[i] {
				t.Fatalf("sample %d differs", i)
			}
		}
	}
}

func TestBadFiles(t *testing.T) {
	good := wavBytes(t, Clip{Rate: 8000, Samples: tones(8000, 8000)})
	dir := t.TempDir()
	write := func(name string, b []byte) string {
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, b, 0o644); err != nil {
			t.Fatal(err)
		}
		return p
	}
	patch := func(at int, b ...byte) []byte {
		p := append([]byte(nil), good...)
		copy(p[at:], b)
		return p
	}
	cases := []struct {
		path, want string
		opt        Options
	}{
		{filepath.Join(dir, "none.wav"), "there is no such file", Options{}},
		{dir, "it is a folder", Options{}},
		{write("empty.wav", nil), "the file is empty", Options{}},
		{write("text.wav", []byte("Meeting at eight, bring the low harps.\n")),
			"it is plain text, not a recording", Options{}},
		{write("picture.mp3", []byte("\x89PNG\r\n\x1a\n0000")), "a picture (PNG), not a recording", Options{}},
		{write("notes.mid", []byte("MThd\x00\x00\x00\x06\x00\x01")), "a MIDI file", Options{}},
		{write("zero.wav", make([]byte, 1000)), "it is not a recording of a known format", Options{}},
		{write("header.wav", good[:44]), "it holds no sound", Options{}},
		{write("cut.wav", good[:30]), "cut off", Options{}},
		{write("rate.wav", patch(24, 0xFF, 0xFF, 0xFF, 0xFF)),
			"impossible sampling rate: 4294967295 Hz", Options{}},
		{write("rate0.wav", patch(24, 0, 0, 0, 0)), "impossible sampling rate: 0 Hz", Options{}},
		{write("channels0.wav", patch(22, 0, 0)), "impossible number of channels: 0", Options{}},
		{write("channels.wav", patch(22, 0xFF, 0xFF)), "impossible number of channels: 65535", Options{}},
		{write("fmtsize.wav", patch(16, 0xFE, 0xFF, 0xFF, 0xFF)), "no data chunk", Options{}},
		{write("good.wav", good),
			"the section starts at 0:03.0 but the recording is only 0:01.0 long", Options{From: 3}},
		{write("good.wav", good), "no side signal", Options{Channel: Side}},
		{write("good.wav", good),
			"the section ends at 0:00.1, before it starts at 0:00.5", Options{From: 0.5, To: 0.1}},
		{write("good.wav", good), "cannot resample to 7 Hz", Options{Rate: 7}},
	}
	for _, c := range cases {
		_, _, _, err := Load(c.path, c.opt)
		var e *Error
		if !errors.As(err, &e) {
			t.Errorf("%s: error %v is not an *Error", c.path, err)
			continue
		}
		if e.Path != c.path || !strings.Contains(e.Error(), c.want) || strings.Contains(e.Error(), "\n") {
			t.Errorf("%s: error %q, want %q in it", c.path, e.Error(), c.want)
		}
	}
}

func TestStreamedSizes(t *testing.T) {
	x := tones(8000, 8000)
	good := wavBytes(t, Clip{Rate: 8000, Samples: x})
	for _, size := range [][]byte{{0, 0, 0, 0}, {0xFF, 0xFF, 0xFF, 0xFF}, {0, 0xF0, 0xFF, 0x7F}} {
		b := append([]byte(nil), good...)
		copy(b[40:], size)
		c, info, warnings, err := Load(writeTemp(t, "streamed.wav", b), Options{})
		if err != nil || len(c.Samples) != 8000 || len(warnings) != 0 || info.Duration != 1 {
			t.Errorf("data size %x: %d samples, %v, warnings %q, error %v", size, len(c.Samples), info, warnings, err)
		}
	}
}

func TestTruncatedWAV(t *testing.T) {
	good := wavBytes(t, Clip{Rate: 8000, Samples: tones(8000, 80000)})
	c, info, warnings, err := Load(writeTemp(t, "cut.wav", good[:44+2*20000+1]), Options{})
	if err != nil || len(c.Samples) != 20000 || info.Duration != 2.5 {
		t.Fatalf("%d samples, %+v, %v", len(c.Samples), info, err)
	}
	if len(warnings) != 1 || warnings[0] != "truncated after 0:02.5; transcribed as far as it goes" {
		t.Errorf("warnings %q", warnings)
	}
	_, _, warnings, err = Load(writeTemp(t, "cut.wav", good[:44+2*20000+1]), Options{From: 1, To: 2})
	if err != nil || len(warnings) != 0 {
		t.Errorf("a section before the cut: warnings %q, error %v", warnings, err)
	}
}

func TestParseTime(t *testing.T) {
	for s, want := range map[string]float64{
		"83.4": 83.4, "1:23.4": 83.4, "1:02:03": 3723, "0": 0, " 5 ": 5, "0:07": 7, "90:00": 5400, ".5": 0.5,
	} {
		got, err := ParseTime(s)
		if err != nil || math.Abs(got-want) > 1e-9 {
			t.Errorf("ParseTime(%q) = %g, %v; want %g", s, got, err, want)
		}
	}
	for _, s := range []string{
		"", "abc", "1:60", "1:", ":5", "-3", "1:2:3:4", "1.5:00", "1e3", "NaN", "1:02:60", "99999999999999", "1..2",
	} {
		if got, err := ParseTime(s); err == nil {
			t.Errorf("ParseTime(%q) = %g, want an error", s, got)
		}
	}
}

func TestParseChannel(t *testing.T) {
	for _, c := range []Channel{Mix, Left, Right, Side, LeftLess(0.251), RightLess(1.2), LeftLess(1.0 / 3)} {
		if got, err := ParseChannel(c.String()); err != nil || got != c {
			t.Errorf("ParseChannel(%q) = %v, %v", c.String(), got, err)
		}
	}
	if c, err := ParseChannel("Right-0.5Left"); err != nil || c.String() != "right-0.5left" {
		t.Errorf("ParseChannel(Right-0.5Left) = %v, %v", c, err)
	}
	if c := LeftLess(0); c != Left {
		t.Errorf("left less nothing is %v", c)
	}
	for _, s := range []string{
		"middle", "left-", "left-right", "left-0.5left", "left--1right", "left-NaNright", "left-11right",
		"side-0.5left",
	} {
		if c, err := ParseChannel(s); err == nil {
			t.Errorf("ParseChannel(%s) = %v, want an error", s, c)
		}
	}
}

// What sounds 0.4 times as loud on the left as on the right is silent in the left
// less 0.4 times the right, and all else is there, at most full scale.
func TestLess(t *testing.T) {
	raw := []float64{0.4, 1, -0.2, -0.5, 1, 0, 1, -1}
	want := []float64{0, 0, 1 / 1.4, 1}
	for i, v := range appendMono(nil, raw, 2, LeftLess(0.4)) {
		if math.Abs(v-want[i]) > 1e-12 {
			t.Errorf("left-0.4right: sample %d is %g, want %g", i, v, want[i])
		}
	}
	for i, v := range appendMono(nil, raw, 2, RightLess(2.5)) {
		if math.Abs(v+want[i]) > 1e-12 {
			t.Errorf("right-2.5left: sample %d is %g, want %g", i, v, -want[i])
		}
	}
}

// Times are written so that they can be given again.
func TestClock(t *testing.T) {
	for s, want := range map[float64]string{
		0: "0:00.0", 83.44: "1:23.4", 59.96: "0:59.9", 59.9999: "1:00.0", 119.999: "2:00.0",
		3723: "1:02:03.0", 36000.1: "10:00:00.1",
	} {
		got := Clock(s)
		if got != want {
			t.Errorf("Clock(%g) = %s, want %s", s, got, want)
		}
		if back, err := ParseTime(got); err != nil || math.Abs(back-s) > 0.1 {
			t.Errorf("%s reads as %g, %v", got, back, err)
		}
	}
}
