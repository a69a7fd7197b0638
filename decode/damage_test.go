package decode

import (
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var fixtures = []string{"take.wav", "take.mp3", "take22.mp3", "take.flac", "take.ogg"}

func fixture(t testing.TB, name string) (path string, b []byte) {
	t.Helper()
	path = filepath.Join("..", "testdata", "decode", name)
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return path, b
}

func TestSectionsOfFixtures(t *testing.T) {
	for _, name := range fixtures {
		path, _ := fixture(t, name)
		for _, rate := range []int{0, 22050, 16000} {
			whole, _, warnings, err := Load(path, Options{Rate: rate})
			if err != nil || len(warnings) > 0 {
				t.Fatalf("%s: warnings %q, error %v", name, warnings, err)
			}
			if name == "take.wav" {
				continue // too short for the sections below
			}
			checkSections(t, path, whole, Options{Rate: rate})
		}
	}
}

// A file cut anywhere gives an *Error, or the beginning of what the whole file
// gives; never a panic.
func TestTruncations(t *testing.T) {
	dir := t.TempDir()
	for _, name := range fixtures {
		path, b := fixture(t, name)
		whole, _, _, err := Load(path, Options{})
		if err != nil {
			t.Fatal(err)
		}
		for n := 1; n < len(b); n += min(1000, 1+n/3) {
			cut := filepath.Join(dir, name)
			if err := os.WriteFile(cut, b[:n], 0o644); err != nil {
				t.Fatal(err)
			}
			c, info, warnings, err := Load(cut, Options{})
			if err != nil {
				if e, ok := err.(*Error); !ok || e.Path != cut || strings.Contains(e.Error(), "panic") {
					t.Errorf("%s cut to %d bytes: %v", name, n, err)
				}
				continue
			}
			if len(c.Samples) > len(whole.Samples) {
				t.Errorf("%s cut to %d bytes: %d samples of %d", name, n, len(c.Samples), len(whole.Samples))
				continue
			}
			said := strings.Contains(strings.Join(warnings, " "), "truncated after ")
			if len(c.Samples) < len(whole.Samples) && !said {
				t.Errorf("%s cut to %d bytes: warnings %q", name, n, warnings)
			}
			if math.Abs(info.Duration-float64(len(c.Samples))/float64(c.Rate)) > 1e-9 {
				t.Errorf("%s cut to %d bytes: duration %g of %d samples", name, n, info.Duration, len(c.Samples))
			}
			for i, v := range c.Samples {
				if v != whole.Samples[i] {
					t.Errorf("%s cut to %d bytes: sample %d of %d differs", name, n, i, len(c.Samples))
					break
				}
			}
		}
	}
}

// Bytes overwritten in the middle cost a piece there; what comes after keeps
// its time.
func TestDamageInTheMiddle(t *testing.T) {
	for _, name := range []string{"take.mp3", "take22.mp3", "take.flac", "take.ogg"} {
		path, b := fixture(t, name)
		whole, _, _, err := Load(path, Options{})
		if err != nil {
			t.Fatal(err)
		}
		broken := append([]byte(nil), b...)
		at := len(b) / 3
		for i := range 40 {
			broken[at+i] ^= byte(0x55 + 7*i)
		}
		c, _, warnings, err := Load(writeTemp(t, name, broken), Options{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if len(c.Samples) != len(whole.Samples) {
			t.Errorf("%s: %d samples, want %d (warnings %q)", name, len(c.Samples), len(whole.Samples), warnings)
			continue
		}
		same := 0
		for i := len(c.Samples) - 1; i >= 0 && c.Samples[i] == whole.Samples[i]; i-- {
			same++
		}
		if same < len(whole.Samples)/3 {
			t.Errorf("%s: only the last %d of %d samples agree (warnings %q)", name, same, len(c.Samples), warnings)
		}
		t.Logf("%s: the last %d of %d samples agree, warnings %q", name, same, len(c.Samples), warnings)
	}
}

// Every damage must end in an error or in sound, quickly and without a panic.
func TestRandomDamage(t *testing.T) {
	seed := uint32(3)
	random := func(n int) int {
		seed = seed*1664525 + 1013904223
		return int(seed>>8) % n
	}
	times := 8
	if thorough {
		times = 40
	}
	for _, name := range fixtures {
		_, b := fixture(t, name)
		path := filepath.Join(t.TempDir(), name)
		for range times {
			bad := append([]byte(nil), b...)
			for range 1 + random(20) {
				bad[random(len(bad))] = byte(random(256))
			}
			if random(2) == 0 { // the header, where it hurts most
				bad[random(min(200, len(bad)))] ^= byte(1 << random(8))
			}
			if err := os.WriteFile(path, bad, 0o644); err != nil {
				t.Fatal(err)
			}
			checkOpens(t, path, Options{})
			checkOpens(t, path, Options{From: 0.7, Rate: 22050})
		}
	}
}

// checkOpens reads a recording that may be damaged.
func checkOpens(t testing.TB, path string, opt Options) {
	t.Helper()
	s, err := Open(path, opt)
	if err == nil {
		defer s.Close()
		buf := make([]float64, 8192)
		for total := 0; ; {
			n, rerr := s.Read(buf)
			total += n
			for _, v := range buf[:n] {
				if v-v != 0 {
					t.Fatalf("%s: a sample is %g", path, v)
				}
			}
			if total > 100_000_000 {
				t.Fatalf("%s: too many samples", path)
			}
			if err = rerr; err != nil {
				break
			}
		}
		s.Warnings()
		s.Info()
	}
	if err == io.EOF {
		return
	}
	if e, ok := err.(*Error); !ok || e.Path != path || e.Problem == "" {
		t.Fatalf("%s: error %#v", path, err)
	}
}

func TestNotNumbers(t *testing.T) {
	b := wavBytes(t, Clip{Rate: 8000, Samples: make([]float64, 8000)})
	b[20], b[32], b[34] = wavFloat, 4, 32
	for i, bits := range []uint32{0x7FC00000, 0x7F800000, 0xFF800000} {
		copy(b[44+4*(100+i):], []byte{byte(bits), byte(bits >> 8), byte(bits >> 16), byte(bits >> 24)})
	}
	c, _, warnings, err := Load(writeTemp(t, "nan.wav", b), Options{})
	if err != nil || len(c.Samples) != 4000 {
		t.Fatal(len(c.Samples), err)
	}
	for i, v := range c.Samples {
		if v != 0 {
			t.Fatalf("sample %d is %g", i, v)
		}
	}
	if len(warnings) != 1 || warnings[0] != "3 samples are not a number, the first at 0:00.0: silence instead" {
		t.Errorf("warnings %q", warnings)
	}
}

// What a file is, is told by its bytes, not by its name.
func TestMislabelled(t *testing.T) {
	for name, want := range map[string]string{
		"take.mp3": "MP3", "take.flac": "FLAC", "take.ogg": "Ogg Vorbis", "take.wav": "WAV",
	} {
		_, b := fixture(t, name)
		for _, other := range []string{"x.wav", "x.mp3", "x.flac", "x.txt"} {
			s, err := Open(writeTemp(t, other, b), Options{})
			if err != nil {
				t.Errorf("%s as %s: %v", name, other, err)
				continue
			}
			if s.Info().Format != want {
				t.Errorf("%s as %s: %s", name, other, s.Info().Format)
			}
			s.Close()
		}
	}
}

// Tags before and after the sound.
func TestTags(t *testing.T) {
	_, mp3 := fixture(t, "take.mp3")
	_, flac := fixture(t, "take.flac")
	id3 := append([]byte("ID3\x04\x00\x00\x00\x01\x02\x03"), make([]byte, 1<<14+2<<7+3)...)
	id3v1 := append([]byte("TAG"), make([]byte, 125)...)
	for _, f := range [][]byte{mp3, flac} {
		want, _, _, err := Load(writeTemp(t, "plain", f), Options{})
		if err != nil {
			t.Fatal(err)
		}
		tagged := append(append(append([]byte(nil), id3...), f...), id3v1...)
		got, _, warnings, err := Load(writeTemp(t, "tagged", tagged), Options{})
		if err != nil || len(warnings) > 0 || len(got.Samples) != len(want.Samples) {
			t.Errorf("%d samples, want %d; warnings %q, error %v", len(got.Samples), len(want.Samples), warnings, err)
			continue
		}
		if _, most := difference(got.Samples, want.Samples); most > 0 {
			t.Errorf("tags change the samples")
		}
	}
}

// MP3 inside a WAV file (format tag 0x0055).
func TestMP3InWAV(t *testing.T) {
	path, mp3 := fixture(t, "take.mp3")
	want, _, _, err := Load(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	b := wavBytes(t, Clip{Rate: 44100, Samples: make([]float64, len(mp3)/2)})
	b[20], b[22], b[32], b[34] = wavMP3, 2, 1, 0
	got, info, _, err := Load(writeTemp(t, "mp3.wav", append(b[:44:44], mp3...)), Options{})
	if err != nil || info.Format != "MP3" || len(got.Samples) != len(want.Samples) {
		t.Fatalf("%+v, %d samples, %v", info, len(got.Samples), err)
	}
	if _, most := difference(got.Samples, want.Samples); most > 0 {
		t.Error("samples differ")
	}
}

// A file cut out of the middle of an MP3: its first frames lack their data.
func TestMP3CutStart(t *testing.T) {
	path, b := fixture(t, "take.mp3")
	whole, _, _, err := Load(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	c, _, _, err := Load(writeTemp(t, "cut.mp3", b[5000:]), Options{})
	if err != nil {
		t.Fatal(err)
	}
	// frames keep their grid, so the end must agree from some frame on
	n := len(c.Samples)
	best := math.Inf(1)
	for shift := 0; shift < 3*1152; shift++ {
		end := n - shift
		if end < 40000 || end > n {
			break
		}
		_, most := difference(c.Samples[end-30000:end], whole.Samples[len(whole.Samples)-30000:])
		best = min(best, most)
	}
	if best > 0 {
		t.Errorf("the end differs by at least %g", best)
	}
}

func TestChainedOgg(t *testing.T) {
	path, b := fixture(t, "take.ogg")
	whole, _, _, err := Load(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	second := append([]byte(nil), b...)
	// another serial number would need new checksums: make one by hand
	second = renumberOgg(t, second)
	chained := writeTemp(t, "chained.ogg", append(append([]byte(nil), b...), second...))
	c, info, warnings, err := Load(chained, Options{})
	if err != nil || len(c.Samples) != len(whole.Samples) || math.Abs(info.Duration-2) > 0.01 {
		t.Errorf("%d samples, want %d; %+v, %v", len(c.Samples), len(whole.Samples), info, err)
	}
	if !strings.Contains(strings.Join(warnings, " "), "several recordings") {
		t.Errorf("warnings %q", warnings)
	}
}

// renumberOgg gives all pages another serial number.
func renumberOgg(t *testing.T, b []byte) []byte {
	for at := 0; at < len(b); {
		size := 27 + int(b[at+26])
		for _, n := range b[at+27 : at+27+int(b[at+26])] {
			size += int(n)
		}
		page := b[at : at+size]
		page[14] ^= 0xFF
		sealOgg(page)
		at += size
	}
	return b
}

// sealOgg writes the checksum of a page (RFC 3533, section 6).
func sealOgg(page []byte) {
	copy(page[22:26], []byte{0, 0, 0, 0})
	c := uint32(0)
	for _, v := range page {
		c ^= uint32(v) << 24
		for range 8 {
			if c&0x80000000 != 0 {
				c = c<<1 ^ 0x04C11DB7
			} else {
				c <<= 1
			}
		}
	}
	copy(page[22:26], []byte{byte(c), byte(c >> 8), byte(c >> 16), byte(c >> 24)})
}

func ExampleParseTime() {
	s, _ := ParseTime("1:23.4")
	fmt.Println(s)
	// Output: 83.4
}
