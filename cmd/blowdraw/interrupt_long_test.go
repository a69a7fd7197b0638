//go:build long

package main

import (
	"bytes"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"blowdraw/tabber/tab"
)

// tabsLeft are the tabs in a folder, which may hold nothing else but recordings and
// the notes of what was made.
func tabsLeft(t *testing.T, dir string) map[string]string {
	t.Helper()
	tabs := map[string]string{}
	for _, path := range listing(t, dir)[1:] {
		switch name := filepath.Base(path); {
		case filepath.Ext(name) == ".tab" && !strings.HasPrefix(name, "."):
			tabs[name] = read(t, path)
		case filepath.Ext(name) != ".wav" && name != madeName:
			t.Errorf("left behind: %s", name)
		}
	}
	return tabs
}

// batchOf runs the program itself over a folder and sends the signals, each once so
// many more tabs are there, and a moment later. Without signals it runs to its end.
func batchOf(t *testing.T, dir string, signals []os.Signal, tabs int, later time.Duration,
	args ...string) (c *exec.Cmd, stdout, stderr string) {
	t.Helper()
	var out, trouble bytes.Buffer
	c = program(t, append([]string{"transcribe", "--ear", "classical", "--harp", "C", "--jobs", "2", dir},
		args...)...)
	c.Stdout, c.Stderr = &out, &trouble
	noted := func() int {
		b, _ := os.ReadFile(filepath.Join(dir, madeName))
		return bytes.Count(b, []byte("\n"))
	}
	before := noted()
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	if len(signals) > 0 {
		for range 60000 {
			if noted() >= before+tabs {
				break
			}
			time.Sleep(500 * time.Microsecond)
		}
		time.Sleep(later)
	}
	for _, s := range signals {
		c.Process.Signal(s)
	}
	c.Wait()
	return c, out.String(), trouble.String()
}

// Ctrl-C at many moments of a run over many recordings: every tab is whole, the old
// one or the new one, nothing else is left, and the next run knows what is done.
func TestInterruptMany(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("no signals")
	}
	dir := t.TempDir()
	const recordings = 16
	for i := range recordings {
		put(t, dir, fmt.Sprintf("%02d.wav", i), wavOf(t, tone(0.5+float64(i)/100)))
	}
	if c, _, stderr := batchOf(t, dir, nil, 0, 0); c.ProcessState.ExitCode() != 0 {
		t.Fatal(stderr)
	}
	versions := []map[string]string{tabsLeft(t, dir)}
	stopped := 0
	for n, at := range []struct {
		tabs    int // written before the signal
		later   time.Duration
		signals []os.Signal
	}{
		{1, 0, []os.Signal{os.Interrupt}},
		{1, 3 * time.Millisecond, []os.Signal{syscall.SIGTERM}},
		{4, time.Millisecond, []os.Signal{os.Interrupt}},
		{9, 0, []os.Signal{syscall.SIGTERM}},
		{12, 2 * time.Millisecond, []os.Signal{os.Interrupt}},
	} {
		flags := []string{"--tuning", fmt.Sprint(n + 1)} // other tabs than before
		c, stdout, stderr := batchOf(t, dir, at.signals, at.tabs, at.later, flags...)
		if code := c.ProcessState.ExitCode(); code != 0 {
			stopped++
			if code != exitFailed || stdout != "" || !strings.HasSuffix(stderr, "\nblowdraw: stopped\n") ||
				!strings.Contains(stderr, " goes on from here.\n") {
				t.Errorf("%+v: exit code %d, stdout %q, stderr %q", at, code, stdout, stderr)
			}
		}
		half := tabsLeft(t, dir)
		c, stdout, stderr = batchOf(t, dir, nil, 0, 0, flags...)
		if c.ProcessState.ExitCode() != 0 || !strings.Contains(stdout, " 0 kept, 0 failed") {
			t.Fatalf("%+v: afterwards exit code %d, stderr %q\n%s",
				at, c.ProcessState.ExitCode(), stderr, stdout)
		}
		versions = append(versions, tabsLeft(t, dir))
		checkWhole(t, half, versions[n], versions[n+1])
	}
	if stopped < 3 {
		t.Errorf("only %d runs were stopped before their end", stopped)
	}
}

// checkWhole wants every tab to be the old or the new one.
func checkWhole(t *testing.T, half, before, after map[string]string) {
	t.Helper()
	if maps.Equal(before, after) || len(half) != len(before) {
		t.Errorf("%d tabs before, %d half way, %d after; or nothing changed",
			len(before), len(half), len(after))
	}
	for name, text := range half {
		if text != before[name] && text != after[name] {
			t.Errorf("%s is neither the old nor the new tab:\n%s", name, text)
		}
	}
}

// A program that is ended at once, by a second Ctrl-C or by force, at many moments:
// it can't tidy up, and still every tab is whole.
func TestKilledMany(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("no signals")
	}
	dir := t.TempDir()
	for i := range 8 {
		put(t, dir, fmt.Sprintf("%d.wav", i), wavOf(t, tone(0.5)))
	}
	for n := range 8 {
		flags := []string{"--tuning", fmt.Sprint(n + 1)}
		signals := []os.Signal{os.Interrupt, os.Interrupt}
		if n%2 == 1 {
			signals = []os.Signal{syscall.SIGKILL}
		}
		batchOf(t, dir, signals, 1+n/2, time.Duration(n)*300*time.Microsecond, flags...)
		files, _ := filepath.Glob(filepath.Join(dir, "*.tab"))
		half := map[string]string{}
		for _, path := range files {
			half[filepath.Base(path)] = read(t, path)
		}
		c, stdout, stderr := batchOf(t, dir, nil, 0, 0, flags...)
		if c.ProcessState.ExitCode() != 0 || !strings.Contains(stdout, " 0 kept, 0 failed") {
			t.Fatalf("afterwards exit code %d, stderr %q\n%s", c.ProcessState.ExitCode(), stderr, stdout)
		}
		for name, text := range half {
			if d, err := tab.Parse(strings.NewReader(text)); err != nil || len(d.Events) == 0 ||
				!strings.HasSuffix(text, "\n") {
				t.Errorf("%s is half a tab (%v):\n%s", name, err, text)
			}
		}
	}
}
