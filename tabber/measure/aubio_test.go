package main

import (
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"

	"blowdraw/decode"
	"blowdraw/tabber/score"
)

func TestParseAubio(t *testing.T) {
	got, err := parseAubio("0.963628\n75.000000\t0.963628\t1.399002\n64.000000\t17.25\t17.75\n20.003990\n", 0.0625)
	want := []score.Note{{Onset: 0.963628 - 0.0625, Offset: 1.399002 - 0.0625, Pitch: 75}, {Onset: 17.1875, Offset: 17.6875, Pitch: 64}}
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("got %v, %v, want %v", got, err, want)
	}
	for _, bad := range []string{"75 1 2 3\n", "75 one 2\n"} {
		if _, err := parseAubio(bad, 0); err == nil {
			t.Errorf("%q: no error", bad)
		}
	}
}

// aubionotes finds two plain notes where they are, so that its scores say
// something about the clips and not about how it is run.
func TestAubioFindsPlainNotes(t *testing.T) {
	if _, err := exec.LookPath("aubionotes"); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("aubionotes (Debian package aubio-tools) is missing")
		}
		t.Skip("aubionotes (Debian package aubio-tools) is missing")
	}
	for _, rate := range []int{44100, 22050} {
		testPlainNotes(t, rate)
	}
}

func testPlainNotes(t *testing.T, rate int) {
	want := []score.Note{{Onset: 0.5, Offset: 1.2, Pitch: 69}, {Onset: 1.6, Offset: 2.4, Pitch: 76}}
	x := make([]float64, 3*rate)
	for i := range x {
		s := float64(i) / float64(rate)
		for _, n := range want {
			if s < n.Onset || s >= n.Offset {
				continue
			}
			hz := 440 * math.Exp2((n.Pitch-69)/12)
			fade := min(1, (s-n.Onset)/0.005, (n.Offset-s)/0.005)
			for h := 1.0; h <= 6; h++ {
				x[i] += 0.2 * fade / h * math.Sin(2*math.Pi*h*hz*s)
			}
		}
	}
	path := filepath.Join(t.TempDir(), "notes.wav")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := decode.WriteWAV(f, decode.Clip{Rate: rate, Samples: x}); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	got, err := runAubio(path, 0.065)
	if err != nil {
		t.Fatal(err)
	}
	if r := score.Notes(want, got, score.NoOffset); r.F < 1 {
		t.Errorf("at %d Hz F is %.2f: found %v, want %v", rate, r.F, got, want)
	}
}
