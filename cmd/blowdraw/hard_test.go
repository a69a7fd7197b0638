package main

import (
	"bytes"
	"context"
	"fmt"
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
	"noise": {func(i, rate int) float64 { return rand.New(rand.NewPCG(uint64(i), 5)).Float64()*2 - 1 },
		false},
	"square": {func(i, rate int) float64 { return float64(1 - i*2*440/rate%2*2) }, false},
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
		if e.Start < 0 || e.End <= e.Start || e.End > seconds+0.01 ||
			!(e.Confidence >= 0 && e.Confidence <= 1) {
			t.Errorf("an event from %g to %g s, confidence %g", e.Start, e.End, e.Confidence)
		}
	}
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
		{"layout", "--harp", "C"}, {"demo", "--ear", "classical"}, {"marks"}, {"completion", "bash"},
		{"--help"}, {"--version"},
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
	mount := exec.Command("mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", dir)
	if out, err := mount.CombinedOutput(); err != nil {
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
		after := slices.DeleteFunc(listing(t, dir),
			func(path string) bool { return filepath.Base(path) == madeName })
		if !slices.Equal(before, after) || read(t, old) != "mine" {
			t.Errorf("%q: files before:\n%q\nafter:\n%q", args, before, after)
		}
	}
}
