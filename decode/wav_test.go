package decode

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/go-audio/audio"
	"github.com/go-audio/wav"
)

// Files written by another Go library.
func TestWAVByOtherWriter(t *testing.T) {
	for _, bits := range []int{8, 16, 24, 32} {
		path := filepath.Join(t.TempDir(), "take.wav")
		f, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		format := &audio.Format{NumChannels: 2, SampleRate: 32000}
		data := make([]int, 2*5000)
		for i := range data {
			v := math.Sin(float64(i)/9) * 0.9 * math.Exp2(float64(bits-1))
			if data[i] = int(v); bits == 8 {
				data[i] += 128
			}
		}
		enc := wav.NewEncoder(f, 32000, bits, 2, wavPCM)
		if err := enc.Write(&audio.IntBuffer{Format: format, Data: data, SourceBitDepth: bits}); err != nil {
			t.Fatal(err)
		}
		if err := enc.Close(); err != nil {
			t.Fatal(err)
		}
		f.Close()
		got := interleaved(t, path)
		if len(got) != len(data) {
			t.Fatalf("%d bits: %d samples, want %d", bits, len(got), len(data))
		}
		for i, v := range got {
			want := float64(data[i])
			if bits == 8 {
				want -= 128
			}
			if want /= math.Exp2(float64(bits - 1)); v != want {
				t.Fatalf("%d bits: sample %d is %g, want %g", bits, i, v, want)
			}
		}
	}
}

// Chunks before the samples, of odd size, with the padding byte and without.
func TestWAVOddChunks(t *testing.T) {
	good := wavBytes(t, Clip{Rate: 8000, Samples: tones(8000, 800)})
	for _, extra := range []string{
		"LIST\x03\x00\x00\x00abc\x00", "LIST\x03\x00\x00\x00abc", "junk\x00\x00\x00\x00", "note\x01\x00\x00\x00x",
	} {
		b := append(append(append([]byte(nil), good[:36]...), extra...), good[36:]...)
		c, _, warnings, err := Load(writeTemp(t, "odd.wav", b), Options{})
		if err != nil || len(c.Samples) != 800 || len(warnings) > 0 {
			t.Errorf("%q: %d samples, warnings %q, error %v", extra, len(c.Samples), warnings, err)
		}
	}
}

// Chunks after the samples are not sound, also where there are no samples.
func TestWAVChunksAfter(t *testing.T) {
	good := wavBytes(t, Clip{Rate: 8000, Samples: tones(8000, 800)})
	after := append(append([]byte(nil), good...), "LIST\x04\x00\x00\x00INFO"...)
	if c, _, _, err := Load(writeTemp(t, "after.wav", after), Options{}); err != nil || len(c.Samples) != 800 {
		t.Errorf("%d samples, %v", len(c.Samples), err)
	}
	none := append(append([]byte(nil), good[:40]...), "\x00\x00\x00\x00LIST\x04\x00\x00\x00INFO"...)
	if _, _, _, err := Load(writeTemp(t, "none.wav", none), Options{}); err == nil {
		t.Error("a file without samples gave no error")
	}
}

func TestWriteWAVClips(t *testing.T) {
	in := []float64{0, 1, -1, 2, -2, math.NaN(), 0.5, 1e300}
	want := []float64{0, 32767.0 / 32768, -1, 32767.0 / 32768, -1, 0, 0.5, 32767.0 / 32768}
	c, _, _, err := Load(writeTemp(t, "clip.wav", wavBytes(t, Clip{Rate: 8000, Samples: in})), Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range c.Samples {
		if v != want[i] {
			t.Errorf("%g became %g, want %g", in[i], v, want[i])
		}
	}
}

func TestChannels(t *testing.T) {
	b := wavBytes(t, Clip{Rate: 8000, Samples: []float64{0.5, 0.25, -0.5, 0.125}})
	b[22], b[32] = 2, 4 // two channels
	path := writeTemp(t, "stereo.wav", b)
	for mix, want := range map[Channel][]float64{
		Mix: {0.375, -0.1875}, Left: {0.5, -0.5}, Right: {0.25, 0.125}, Side: {0.125, -0.3125},
	} {
		c, _, _, err := Load(path, Options{Channel: mix})
		if err != nil || len(c.Samples) != 2 || c.Samples[0] != want[0] || c.Samples[1] != want[1] {
			t.Errorf("%v: %v, %v", mix, c.Samples, err)
		}
	}
}

// Formats by their first bytes.
func TestSniff(t *testing.T) {
	for head, want := range map[string]string{
		"fLaC\x00\x00\x00\x22":                                                 "FLAC",
		"RIFF\x24\x00\x00\x00WAVEfmt ":                                         "WAV",
		"RF64\xFF\xFF\xFF\xFFWAVEds64":                                         "WAV",
		"FORM\x00\x00\x10\x00AIFFCOMM":                                         "AIFF",
		"FORM\x00\x00\x10\x00AIFCFVER":                                         "AIFF",
		"\x00\x00\x00\x20ftypM4A \x00\x00\x00\x00":                             "M4A (AAC)",
		"\x00\x00\x00\x20ftypisom\x00\x00\x02\x00":                             "MP4",
		"\x30\x26\xB2\x75\x8E\x66\xCF\x11\xA6\xD9":                             "Windows Media (WMA)",
		"\x1A\x45\xDF\xA3\x9F\x42\x86\x81":                                     "Matroska or WebM",
		"OggS\x00\x02" + string(make([]byte, 20)) + "\x01\x13OpusHead\x01\x02": "Ogg Opus",
		"OggS\x00\x02" + string(make([]byte, 20)) + "\x01\x1E\x01vorbis\x00":   "Ogg Vorbis",
	} {
		if got, err := sniff([]byte(head)); got != want || err != nil {
			t.Errorf("%.12q: %q, %v; want %q", head, got, err, want)
		}
	}
}
