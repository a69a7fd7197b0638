package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// album is a folder with two recordings, one of them in a folder of its own, and
// what is none.
func album(t *testing.T) (dir string) {
	t.Helper()
	dir = t.TempDir()
	if err := os.MkdirAll(filepath.Join(dir, "side two"), 0o700); err != nil {
		t.Fatal(err)
	}
	put(t, dir, "one.wav", wavOf(t, tone(0.5)))
	put(t, filepath.Join(dir, "side two"), "two.WAV", wavOf(t, tone(1)))
	put(t, dir, "notes.txt", []byte("not a recording"))
	put(t, dir, ".hidden.wav", wavOf(t, tone(0.5)))
	return dir
}

func transcribeMany(args ...string) (code int, stdout, stderr string) {
	return command(append([]string{"transcribe", "--ear", "classical", "--harp", "C"}, args...)...)
}

func read(t *testing.T, path ...string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(path...))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestManyRecordings(t *testing.T) {
	dir := album(t)
	bad := put(t, dir, "bad.wav", []byte("4 -4 and so on\n"))
	code, stdout, stderr := transcribeMany(dir, filepath.Join(dir, "none.wav"))
	if code != exitFailed ||
		!strings.Contains(stdout, "4 recordings: 2 written, 0 up to date, 0 kept, 2 failed.") {
		t.Errorf("exit code %d, stdout:\n%s", code, stdout)
	}
	for _, say := range []string{"2 of 4 recordings failed", "bad.wav: it is plain text",
		"none.wav: no such file"} {
		if !strings.Contains(stderr, say) {
			t.Errorf("no %q in stderr %q", say, stderr)
		}
	}
	// Each tab is what it would be alone.
	for recording, file := range map[string]string{"one.wav": "one.tab",
		"side two/two.WAV": "side two/two.tab"} {
		if _, alone, _ := transcribeMany(filepath.Join(dir, recording)); read(t, dir, file) != alone {
			t.Errorf("%s is not the tab of %s alone", file, recording)
		}
	}
	os.Remove(bad)
	out := filepath.Join(t.TempDir(), "new", "tabs")
	if code, _, stderr := transcribeMany(dir, "--dir", out, "--jobs", "1"); code != 0 || stderr != "" {
		t.Errorf("exit code %d, stderr %q", code, stderr)
	}
	for _, file := range []string{"one.tab", "side two/two.tab"} {
		if read(t, out, file) != read(t, dir, file) {
			t.Errorf("%s differs with --dir and one job", file)
		}
	}
}

// A second run passes over what is up to date, and never over a tab that its
// reader has edited.
func TestUpToDate(t *testing.T) {
	dir := album(t)
	taps := put(t, t.TempDir(), "taps", []byte("0.1\n0.4\n"))
	one := filepath.Join(dir, "one.tab")
	for _, step := range []struct {
		name   string
		change func()
		args   []string
		want   string
	}{
		{"first", nil, nil, "2 written, 0 up to date, 0 kept"},
		{"second", nil, nil, "0 written, 2 up to date, 0 kept"},
		{"again", nil, []string{"--again"}, "2 written, 0 up to date, 0 kept"},
		{"a flag", nil, []string{"--song-key", "F"}, "2 written, 0 up to date, 0 kept"},
		{"the flag once more", nil, []string{"--song-key", "F", "--jobs", "3"},
			"0 written, 2 up to date, 0 kept"},
		{"taps", nil, []string{"--taps", taps}, "2 written, 0 up to date, 0 kept"},
		{"other taps", func() { os.WriteFile(taps, []byte("0.1\n0.3\n"), 0o600) }, []string{"--taps", taps},
			"2 written, 0 up to date, 0 kept"},
		{"other sound", func() { put(t, dir, "one.wav", wavOf(t, tone(0.7))) }, []string{"--taps", taps},
			"1 written, 1 up to date, 0 kept"},
		{"another time", func() {
			os.Chtimes(filepath.Join(dir, "one.wav"), time.Unix(1e9, 0),
				time.Unix(1e9, 0))
		}, []string{"--taps", taps}, "0 written, 2 up to date, 0 kept"},
		{"lost", func() { os.Remove(one) }, []string{"--taps", taps}, "1 written, 1 up to date, 0 kept"},
		{"edited", func() { put(t, dir, "one.tab", []byte(read(t, one)+"# I hear one more\n")) },
			[]string{"--again"}, "1 written, 0 up to date, 1 kept"},
		{"forced", nil, []string{"--force"}, "1 written, 1 up to date, 0 kept"},
		{"not from here", func() { os.Remove(filepath.Join(dir, madeName)) }, nil,
			"0 written, 1 up to date, 1 kept"},
	} {
		if step.change != nil {
			step.change()
		}
		code, stdout, stderr := transcribeMany(append([]string{dir}, step.args...)...)
		if code != 0 || stderr != "" || !strings.Contains(stdout, step.want) {
			t.Errorf("%s: exit code %d, stderr %q, want %q in\n%s",
				step.name, code, stderr, step.want, stdout)
		}
		if edited := strings.Contains(read(t, one), "I hear one more"); edited != (step.name == "edited") {
			t.Errorf("%s: the edited line is there: %v", step.name, edited)
		}
	}
}

// A run may end between noting a file and replacing it: the old file is still
// known as one that was written here, the new one as current. What was written
// from another recording is never taken for stale.
func TestNotedBeforeWritten(t *testing.T) {
	path := put(t, t.TempDir(), "x \xff.tab", []byte("old"))
	for _, step := range []struct {
		key, from, content string // noted
		file               string // written, "" for none
		want               int    // for key "new" from a.wav
	}{
		{"", "", "", "", fileForeign},
		{"old", "a.wav", "old", "", fileStale},
		{"new", "a.wav", "new", "", fileStale},
		{"", "", "", "new", fileCurrent},
		{"", "", "", "edited", fileForeign},
		{"k", "b.wav", "of b", "", fileForeign},
		{"", "", "", "of b", fileOthers},
		{"k", "a.wav", "of b", "", fileStale},
		{"k", "b.wav", "of b", "", fileOthers},
		{"l", "b.wav", "old", "old", fileOthers},
	} {
		if step.key != "" {
			if err := record(path, made{key: step.key, from: step.from}, []byte(step.content)); err != nil {
				t.Fatal(err)
			}
		}
		if step.file != "" {
			put(t, filepath.Dir(path), filepath.Base(path), []byte(step.file))
		}
		got, other, err := standingOf(path, made{key: "new", from: "a.wav"})
		if got != step.want || err != nil || (other == "b.wav") != (got == fileOthers) {
			t.Errorf("%+v: standing %d, of %q, %v", step, got, other, err)
		}
	}
}

// A line that was cut short spoils neither those before nor those after it.
func TestCutLine(t *testing.T) {
	dir := t.TempDir()
	m := made{key: "k", from: "a.wav"}
	for _, name := range []string{"a.tab", "b.tab", "c.tab"} {
		path := put(t, dir, name, []byte(name))
		if err := record(path, m, []byte(name)); err != nil {
			t.Fatal(err)
		}
		if name == "b.tab" {
			lines := read(t, dir, madeName)
			put(t, dir, madeName, []byte(lines[:len(lines)-7]))
		}
	}
	for name, want := range map[string]int{"a.tab": fileCurrent, "b.tab": fileForeign, "c.tab": fileCurrent} {
		if got, _, err := standingOf(filepath.Join(dir, name), m); got != want || err != nil {
			t.Errorf("%s: standing %d, want %d (%v)", name, got, want, err)
		}
	}
}

// Two recordings never share a tab, and none is overwritten by its own.
func TestTabsOfTheSameName(t *testing.T) {
	dir := t.TempDir()
	sound := wavOf(t, tone(0.5))
	put(t, dir, "take.mp3", sound) // told by its content
	put(t, dir, "take.wav", sound)
	odd := put(t, dir, "odd.tab", sound)
	code, stdout, stderr := transcribeMany(dir, odd, filepath.Join(dir, "take.wav"))
	if code != exitFailed ||
		!strings.Contains(stdout, "3 recordings: 1 written, 0 up to date, 0 kept, 2 failed") ||
		!strings.Contains(stderr, "take.wav: its tab would be") ||
		!strings.Contains(stderr, "odd.tab: its tab would have its own name") {
		t.Errorf("exit code %d, stderr %q, stdout:\n%s", code, stderr, stdout)
	}
	if read(t, odd) != string(sound) {
		t.Error("the recording was overwritten")
	}
}

// Recordings of the same name in different folders, written into one folder by one
// run or by two: the first keeps its tab until --force, and each its own in a
// folder of its own.
func TestSameNameInOneFolder(t *testing.T) {
	dir := t.TempDir()
	var takes []string
	for i, name := range []string{"monday", "tuesday"} {
		folder := filepath.Join(dir, name)
		if err := os.Mkdir(folder, 0o700); err != nil {
			t.Fatal(err)
		}
		takes = append(takes, put(t, folder, "take.wav", wavOf(t, tone(0.5+float64(i)/2))))
	}
	alone := make([]string, 2)
	for i, take := range takes {
		_, alone[i], _ = transcribeMany(take)
	}
	tabs := filepath.Join(dir, "tabs")
	for _, step := range []struct {
		args []string
		want string
		code int
		of   int // whose tab is there afterwards
	}{
		{[]string{takes[0], "--dir", tabs}, "1 written", 0, 0},
		{[]string{takes[1], "--dir", tabs}, "", exitFailed, 0},
		{[]string{takes[1], takes[0], "--dir", tabs}, "0 written, 0 up to date, 0 kept, 2 failed", exitFailed,
			0},
		{[]string{takes[0], takes[1], "--dir", tabs, "--again"}, "1 written, 0 up to date, 0 kept, 1 failed",
			exitFailed, 0},
		{[]string{filepath.Join(dir, "monday"), filepath.Join(dir, "tuesday"), "--dir", tabs},
			"0 written, 1 up to date, 0 kept, 1 failed", exitFailed, 0},
		{[]string{takes[1], "--dir", tabs, "--force"}, "1 written", 0, 1},
		{[]string{takes[0], "--dir", tabs, "--again"}, "", exitFailed, 1},
		{[]string{takes[1], "--dir", tabs, "--again"}, "1 written", 0, 1},
		{[]string{dir, "--dir", tabs}, "2 written", 0, 1},
	} {
		code, stdout, stderr := transcribeMany(step.args...)
		if code != step.code || !strings.Contains(stdout, step.want) || code != 0 &&
			!strings.Contains(stderr, "take.wav: its tab would be") {
			t.Errorf("%q: exit code %d, stderr %q, stdout:\n%s", step.args, code, stderr, stdout)
		}
		if read(t, tabs, "take.tab") != alone[step.of] {
			t.Errorf("%q: the tab is not that of %s", step.args, takes[step.of])
		}
	}
	for i, name := range []string{"monday", "tuesday"} {
		if read(t, tabs, name, "take.tab") != alone[i] {
			t.Errorf("the tab of %s differs", name)
		}
	}
	// Moved together, both are still known.
	moved := filepath.Join(t.TempDir(), "all")
	if err := os.Rename(dir, moved); err != nil {
		t.Fatal(err)
	}
	_, stdout, _ := transcribeMany(moved, "--dir", filepath.Join(moved, "tabs"))
	if !strings.Contains(stdout, "2 up to date") {
		t.Errorf("after moving:\n%s", stdout)
	}
}

func TestManyTrouble(t *testing.T) {
	dir := album(t)
	one, two := filepath.Join(dir, "one.wav"), filepath.Join(dir, "side two", "two.WAV")
	empty := t.TempDir()
	for _, c := range []struct {
		args []string
		code int
		say  string
	}{
		{[]string{one, two, "-o", "x.tab"}, exitUsage, "--dir"},
		{[]string{dir, "--find"}, exitUsage, "--find"},
		{[]string{dir, "--jobs", "0"}, exitUsage, "--jobs"},
		{[]string{one, "--again"}, exitUsage, "--again"},
		{[]string{one, "--jobs", "2"}, exitUsage, "--jobs"},
		{[]string{one, ""}, exitUsage, "empty"},
		{[]string{dir, "--format", "xml"}, exitUsage, "xml"},
	} {
		before := listing(t, dir)
		code, stdout, stderr := transcribeMany(c.args...)
		checkTrouble(t, code, stdout, stderr, c.code, c.say)
		if after := listing(t, dir); !slices.Equal(before, after) {
			t.Errorf("files before:\n%q\nafter:\n%q", before, after)
		}
	}
	if code, _, stderr := transcribeMany(empty); code != exitFailed ||
		!strings.Contains(stderr, "no recordings") {
		t.Errorf("an empty folder: exit code %d, stderr %q", code, stderr)
	}
	code, _, stderr := transcribeMany(dir, "--dir", filepath.Join(one, "below a file"))
	if code != exitFailed || !strings.Contains(stderr, "can't write") {
		t.Errorf("no folder: exit code %d, stderr %q", code, stderr)
	}
}

// Stopped before a recording is done, nothing of it is left.
func TestManyStopped(t *testing.T) {
	dir := album(t)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	before := listing(t, dir)
	var stdout, stderr bytes.Buffer
	code := run(ctx, []string{"transcribe", "--ear", "classical", dir, "--harp", "C"}, &stdout, &stderr)
	if code != exitFailed || stdout.Len() > 0 || !strings.HasSuffix(stderr.String(), "\nblowdraw: stopped\n") ||
		!strings.HasPrefix(stderr.String(), "blowdraw: 0 of ") {
		t.Errorf("exit code %d, stdout %q, stderr %q", code, stdout.String(), stderr.String())
	}
	if after := listing(t, dir); !slices.Equal(before, after) {
		t.Errorf("files before:\n%q\nafter:\n%q", before, after)
	}
}

// A stopped run tells what is done, what was under way, and how it goes on.
func TestTellStopped(t *testing.T) {
	stopped := fmt.Errorf("transcribing: %w", context.Canceled)
	list := []*item{
		{path: "a.wav", begun: true, state: written},
		{path: "b.wav", begun: true, state: upToDate},
		{path: "c.wav", begun: true, err: errors.New("no sound")},
		{path: "d.wav", begun: true, err: stopped},
		{path: "e.wav", begun: true, err: stopped},
		{path: "f.wav", err: context.Canceled},
	}
	for _, c := range []struct {
		list  []*item
		again bool
		want  string
	}{
		{list, false, "blowdraw: 2 of 6 recordings done, 1 failed; under way and not written: d.wav, e.wav. " +
			"The same command line goes on from here.\n"},
		{list[:1], true, "blowdraw: 1 of 1 recording done. The same command line without --again goes on from here.\n"},
		{list[5:], false, "blowdraw: 0 of 1 recording done. The same command line goes on from here.\n"},
	} {
		var out bytes.Buffer
		b := &batch{manyFlags: &manyFlags{again: c.again}, thing: "recording"}
		if b.tellStopped(&out, c.list); out.String() != c.want {
			t.Errorf("%q, want %q", out.String(), c.want)
		}
	}
}

func TestProgressText(t *testing.T) {
	for _, c := range []struct {
		done, total float64
		passed      time.Duration
		want        string
	}{
		{60, 180, 45 * time.Second, "[==========                    ] 1:00.0 of 3:00.0, 1:30 left"},
		{180, 180, 45 * time.Second, "[==============================] 3:00.0 of 3:00.0"},
		{200, 180, 45 * time.Second, "[==============================] 3:20.0 of 3:00.0"},
	} {
		if got := progressText(c.done, c.total, c.passed); got != c.want {
			t.Errorf("%g of %g: %q, want %q", c.done, c.total, got, c.want)
		}
	}
}
