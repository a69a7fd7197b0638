package measure

import (
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"blowdraw/decode"
	"blowdraw/decode/programs"
	"blowdraw/tabber/compare"
	"blowdraw/tabber/lab/score"
	"blowdraw/tabber/tab"
)

func TestParseAubio(t *testing.T) {
	got, err := parseAubio("0.963628\n75.000000\t0.963628\t1.399002\n64.000000\t17.25\t17.75\n20.003990\n",
		0.0625)
	want := []compare.Note{{Onset: 0.963628 - 0.0625, Offset: 1.399002 - 0.0625, Pitch: 75},
		{Onset: 17.1875, Offset: 17.6875, Pitch: 64}}
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
	programs.Need(t, "aubionotes")
	for _, rate := range []int{44100, 22050} {
		testPlainNotes(t, rate)
	}
}

func testPlainNotes(t *testing.T, rate int) {
	want := []compare.Note{{Onset: 0.5, Offset: 1.2, Pitch: 69}, {Onset: 1.6, Offset: 2.4, Pitch: 76}}
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
	wav := filepath.Join(t.TempDir(), "converted.wav")
	if length, err := convert(wav, path); err != nil || math.Abs(length-3) > 0.01 {
		t.Fatalf("%g s, %v", length, err)
	}
	ref := tab.Document{Events: eventsOf(want)}
	for _, y := range yardsticks("", 0.065)[:2] {
		got, c, err := y.notes(ref, path, wav)
		if err != nil {
			t.Fatal(err)
		}
		if m := score.Compare(ref, tab.Document{Events: got}, 0.05); m.NoteF < 1 {
			t.Errorf("%s at %d Hz: noteF is %.2f: found %v, want %v", y.name, rate, m.NoteF, got, want)
		}
		if !(c.Wall > 0 && c.CPU > 0 && c.CPU < c.Wall*float64(runtime.NumCPU())+0.1) || runtime.GOOS == "linux" &&
			!(c.Bytes > 1e6 && c.Bytes < 500e6) {
			t.Errorf("%s cost %+v", y.name, c)
		}
	}
}

// Memory is that of the program, not of whoever starts it: dd takes the block that
// it is told to, and true next to nothing.
func TestCost(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("memory is told on Linux only")
	}
	mine := make([]byte, 300e6)
	for i := 0; i < len(mine); i += 4096 {
		mine[i] = 1
	}
	for _, x := range []struct {
		name      string
		args      []string
		low, high int64
	}{
		{"true", nil, 1e5, 60e6},
		{"dd", []string{"if=/dev/zero", "of=/dev/null", "bs=100M", "count=1"}, 104e6, 170e6},
	} {
		_, c, err := runTold(x.name, x.args...)
		if err != nil || c.Bytes < x.low || c.Bytes > x.high {
			t.Errorf("%s: %+v, %v, want %d to %d bytes", x.name, c, err, x.low, x.high)
		}
	}
	runtime.KeepAlive(mine)
	if _, _, err := runTold("cat", filepath.Join(t.TempDir(), "none")); err == nil ||
		!strings.Contains(err.Error(), "No such file") {
		t.Errorf("a program that fails: %v", err)
	}
}

// A note lasts from its start until its pitch is gone or the next begins.
func TestJoined(t *testing.T) {
	frames := [][]float64{{0, 50}, {0.5, 60}, {0.6, 61}, {0.7, 60}, {0.8, 0}, {1, 70}, {1.1, 70}, {1.2, 72},
		{2, 0}}
	got := joined([][]float64{{0.5}, {1}, {1.9}}, frames)
	if want := []compare.Note{{Onset: 0.5, Offset: 0.7, Pitch: 60},
		{Onset: 1, Offset: 1.2, Pitch: 70}}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

func TestMain(m *testing.M) {
	if code, asked := Costly(os.Args[1:]); asked {
		os.Exit(code)
	}
	os.Exit(m.Run())
}
