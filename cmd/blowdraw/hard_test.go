package main

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"blowdraw/decode"
	"blowdraw/tabber/tab"
)

// oddSignals are sounds that no harp makes, and whether nothing may be heard in them.
var oddSignals = map[string]struct {
	at    func(i, rate int) float64
	empty bool
}{
	"silence": {func(i, rate int) float64 { return 0 }, true},
	"DC":      {func(i, rate int) float64 { return 0.9 }, true},
	"clicks":  {func(i, rate int) float64 { return map[bool]float64{true: 1}[i%(rate/3) == rate/6] }, true},
	"noise":   {func(i, rate int) float64 { return rand.New(rand.NewPCG(uint64(i), 5)).Float64()*2 - 1 }, false},
	"square":  {func(i, rate int) float64 { return float64(1 - i*2*440/rate%2*2) }, false},
}

// Whatever the sound and its rate: a tab within the section, or a word that there
// are no notes.
func TestOddSignals(t *testing.T) {
	dir := t.TempDir()
	for name, signal := range oddSignals {
		for _, rate := range []int{8000, 192000} {
			for _, n := range []int{1, rate * 3 / 2} {
				x := make([]float64, n)
				for i := range x {
					x[i] = signal.at(i, rate)
				}
				var b bytes.Buffer
				if err := decode.WriteWAV(&b, decode.Clip{Rate: rate, Samples: x}); err != nil {
					t.Fatal(err)
				}
				in := put(t, dir, "odd.wav", b.Bytes())
				for _, ear := range []string{"learned", "classical"} {
					t.Run(fmt.Sprintf("%s/%d/%d/%s", name, rate, n, ear), func(t *testing.T) {
						checkOdd(t, in, ear, float64(n)/float64(rate), signal.empty || n == 1)
					})
				}
			}
		}
	}
}

func checkOdd(t *testing.T, in, ear string, seconds float64, empty bool) {
	t.Helper()
	code, stdout, stderr := command("transcribe", in, "--harp", "C", "--ear", ear)
	if code != 0 {
		checkTrouble(t, code, stdout, stderr, exitFailed, "no notes found")
		return
	}
	d, err := tab.Parse(strings.NewReader(stdout))
	if err != nil || empty {
		t.Fatalf("%v, tab:\n%s", err, stdout)
	}
	for _, e := range d.Events {
		if e.Start < 0 || e.End <= e.Start || e.End > seconds+0.01 || !(e.Confidence >= 0 && e.Confidence <= 1) {
			t.Errorf("an event from %g to %g s, confidence %g", e.Start, e.End, e.Confidence)
		}
	}
}

// Every command that listens copes with them, from the search for the harp to the
// page: it ends with exit code 0, or with one line that says why not.
func TestOddSignalsEverywhere(t *testing.T) {
	dir := t.TempDir()
	score := put(t, dir, "odd.tab", []byte(tabHead+"0:00.000 0.5 -2\n0:00.600 0.5 [-4 -5] ?\n"))
	commands := map[string][]string{
		"transcribe": {}, "transcribe all": {"--harp", "C", "--marks", "all", "--keep-voice", "--overbends", "--blow-3", "--format", "json"},
		"transcribe find": {"--harp", "C", "--find"}, "harps": {"--section=5"}, "phrases": {"--harp", "C"}, "texture": {}, "texture harp": {"--harp", "C"},
		"check": {score, "--recording"}, "refine": {score, "--recording"},
	}
	sounds := oddFiles(t, dir)
	for name, in := range sounds {
		for c, flags := range commands {
			t.Run(name+"/"+c, func(t *testing.T) {
				word, _, _ := strings.Cut(c, " ")
				code, stdout, stderr := command(append(append([]string{word}, flags...), in)...)
				if code == 0 && stdout != "" && !strings.Contains(stdout, "NaN") && !strings.Contains(stdout, "Inf") {
					return
				}
				for line := range strings.Lines(stderr) { // what is odd about the recording
					if strings.HasSuffix(line, "silence instead\n") || strings.Contains(line, ": no sound above") {
						stderr = strings.Replace(stderr, line, "", 1)
					}
				}
				checkTrouble(t, code, stdout, stderr, exitFailed, "no notes")
			})
		}
	}
	if left := listing(t, dir); len(left) != 2+len(sounds) {
		t.Errorf("files left: %q", left)
	}
}

// oddFiles are oddSignals at one of the rates each, in mono or against noise on the
// right, a single sample, and floating-point samples that are no numbers or far over
// full scale.
func oddFiles(t *testing.T, dir string) map[string]string {
	t.Helper()
	files := map[string]string{}
	write := func(name string, b []byte) { files[name] = put(t, dir, "odd "+name+".wav", b) }
	i := 0
	for _, name := range slices.Sorted(maps.Keys(oddSignals)) {
		rate := []int{8000, 192000}[i%2]
		left, right := make([]float64, rate), make([]float64, rate)
		for k := range left {
			left[k], right[k] = oddSignals[name].at(k, rate), oddSignals["noise"].at(k+1, rate)/2
		}
		if i++; i%3 == 0 {
			left = interleaved(left, right)
			write(name, floatWAV(rate, 2, left))
			continue
		}
		write(name, floatWAV(rate, 1, left))
	}
	write("sample", floatWAV(44100, 1, []float64{0.5}))
	bad := make([]float64, 22050)
	for k := range bad {
		bad[k] = []float64{math.NaN(), math.Inf(1), 0.5, -0.5, 0.3}[k%5]
	}
	write("no number", floatWAV(22050, 1, bad))
	for k := range bad {
		bad[k] = 1e30 * math.Sin(2*math.Pi*587.33*float64(k)/22050)
	}
	write("huge", floatWAV(22050, 1, bad))
	return files
}

func interleaved(left, right []float64) []float64 {
	var out []float64
	for i := range left {
		out = append(out, left[i], right[i])
	}
	return out
}

// floatWAV is a WAV file with 32-bit floating-point samples (format tag 3 of
// Microsoft's "Multimedia Data Standards Update", 1994).
func floatWAV(rate, channels int, x []float64) []byte {
	var b bytes.Buffer
	b.WriteString("RIFF")
	binary.Write(&b, binary.LittleEndian, uint32(36+4*len(x)))
	b.WriteString("WAVEfmt ")
	for _, v := range []any{uint32(16), uint16(3), uint16(channels), uint32(rate), uint32(4 * channels * rate), uint16(4 * channels), uint16(32)} {
		binary.Write(&b, binary.LittleEndian, v)
	}
	b.WriteString("data")
	binary.Write(&b, binary.LittleEndian, uint32(4*len(x)))
	for _, v := range x {
		binary.Write(&b, binary.LittleEndian, float32(v))
	}
	return b.Bytes()
}

// fullWriter takes so many bytes.
type fullWriter struct{ room int }

func (w *fullWriter) Write(b []byte) (int, error) {
	if len(b) > w.room {
		return w.room, os.ErrInvalid
	}
	w.room -= len(b)
	return len(b), nil
}

// A screen that is a full disk is a failure and is told.
func TestFullScreen(t *testing.T) {
	for _, args := range [][]string{
		{"layout", "--harp", "C"}, {"demo", "--ear", "classical"}, {"marks"}, {"completion", "bash"}, {"--help"}, {"--version"},
	} {
		var stderr bytes.Buffer
		code := run(context.Background(), args, &fullWriter{10}, &stderr)
		if code != exitFailed || stderr.Len() == 0 {
			t.Errorf("%q: exit code %d, stderr %q", args, code, stderr.String())
		}
	}
}

// A disk that is full leaves no part of a file, and the old one as it was.
func TestDiskFull(t *testing.T) {
	if runtime.GOOS != "linux" || os.Getuid() != 0 {
		t.Skip("a small disk needs root on Linux")
	}
	dir := t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", dir).CombinedOutput(); err != nil {
		t.Skipf("mounting a small disk: %v: %s", err, out)
	}
	defer exec.Command("umount", dir).Run()
	old := put(t, dir, "old.tab", []byte("mine"))
	if err := os.WriteFile(filepath.Join(dir, "full"), make([]byte, 1<<20), 0o600); err == nil {
		t.Fatal("the disk is not full")
	}
	sound := wavOf(t, tone(0.5))
	in := put(t, t.TempDir(), "old.wav", sound)
	other := put(t, t.TempDir(), "other.wav", sound)
	before := listing(t, dir)
	for _, args := range [][]string{
		{in, "-o", old, "--force"},
		{in, "-o", filepath.Join(dir, "new.tab")},
		{in, "--dir", dir, "--force"},
		{other, "--dir", dir},
	} {
		code, stdout, stderr := transcribeMany(args...)
		checkTrouble(t, code, stdout, stderr, exitFailed, "no space left")
		after := slices.DeleteFunc(listing(t, dir), func(path string) bool { return filepath.Base(path) == madeName })
		if !slices.Equal(before, after) || read(t, old) != "mine" {
			t.Errorf("%q: files before:\n%q\nafter:\n%q", args, before, after)
		}
	}
}
