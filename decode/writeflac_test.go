package decode

import (
	"bytes"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"blowdraw/decode/programs"
)

// What is written as FLAC comes back as what is written as WAV, and the reference
// program finds stream and digest sound.
func TestWriteFLAC(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	dir := t.TempDir()
	for _, n := range []int{16, 4096, 4097, 30000} {
		for channels := 1; channels <= 2; channels++ {
			x := make([][]float64, channels)
			for c := range x {
				x[c] = make([]float64, n)
				for i := range x[c] {
					x[c][i] = 0.4 * rng.NormFloat64()
				}
			}
			var flacFile, wavFile bytes.Buffer
			if err := WriteFLAC(&flacFile, 22050, x); err != nil {
				t.Fatal(err)
			}
			if err := WriteWAVChannels(&wavFile, 22050, x); err != nil {
				t.Fatal(err)
			}
			pathF, pathW := filepath.Join(dir, "x.flac"), filepath.Join(dir, "x.wav")
			for path, b := range map[string][]byte{pathF: flacFile.Bytes(), pathW: wavFile.Bytes()} {
				if err := os.WriteFile(path, b, 0o600); err != nil {
					t.Fatal(err)
				}
			}
			for _, ch := range []Channel{Left, Right}[:channels] {
				f, info, _, err := Load(pathF, Options{Channel: ch})
				if err != nil {
					t.Fatal(err)
				}
				w, _, _, err := Load(pathW, Options{Channel: ch})
				if err != nil {
					t.Fatal(err)
				}
				if info.Channels != channels || len(f.Samples) != n || len(w.Samples) != n {
					t.Fatalf("%d channels of %d and %d samples, want %d of %d",
						info.Channels, len(f.Samples), len(w.Samples), channels, n)
				}
				for i := range n {
					if f.Samples[i] != w.Samples[i] {
						t.Fatalf("%d samples, channel %v: sample %d is %g, in the WAV %g", n, ch, i, f.Samples[i], w.Samples[i])
					}
				}
			}
			t.Run("reference program", func(t *testing.T) {
				programs.Need(t, "flac")
				command(t, "flac --silent --test %s", pathF)
			})
		}
	}
}

func TestWriteChannelsRefuses(t *testing.T) {
	for name, x := range map[string][][]float64{
		"none": {}, "unequal": {make([]float64, 20), make([]float64, 21)},
	} {
		if WriteWAVChannels(&bytes.Buffer{}, 22050, x) == nil || WriteFLAC(&bytes.Buffer{}, 22050, x) == nil {
			t.Errorf("%s: written", name)
		}
	}
	if WriteFLAC(&bytes.Buffer{}, 22050, [][]float64{make([]float64, 15)}) == nil {
		t.Error("15 samples: written")
	}
}
