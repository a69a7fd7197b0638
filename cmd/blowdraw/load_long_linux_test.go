//go:build long

package main

import (
	"bytes"
	"flag"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode"

	"blowdraw/cmd/blowdraw/demo"
	"blowdraw/decode"
	"blowdraw/decode/programs"
	"blowdraw/tabber/tab"
)

var (
	recordings = flag.Int("recordings", 300, "how many recordings one batch of the tests of load has")
	crowd      = flag.Int("crowd", 100_000, "how many files a folder of the tests of load has")
	minutes    = flag.Float64("minutes", 4, "how long a recording of the tests of load is")
)

// mostMemory is what the program may take at most for each recording that it hears at a
// time, in bytes.
const mostMemory = 140 << 20

// loaded is a run of the program on a terminal: what it showed, each line that was
// replaced, the most memory that it had in bytes (proc(5), VmHWM), and how long it went on
// once it was told to stop.
type loaded struct {
	code           int
	stdout         string
	shown          []string
	peak           int64
	took, stopping time.Duration
}

// built is the program itself, which is smaller than that of its tests.
func built(t *testing.T) (path string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "blowdraw")
	if out, err := exec.Command("go", "build", "-o", path, ".").CombinedOutput(); err != nil {
		t.Fatalf("building the program: %v: %s", err, out)
	}
	return path
}

// load runs the program self in a folder. If stop is not 0 it is interrupted after that time.
func load(t *testing.T, self, dir string, stop time.Duration, args ...string) (l loaded) {
	t.Helper()
	t.Setenv("TERM", "xterm")
	c, stdout, _ := in(t, dir, nil, args...)
	c.Path = self
	f, said := terminal(t, 120)
	c.Stderr = f
	begun := time.Now()
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan bool)
	go func() {
		c.Wait()
		close(ended)
	}()
	told := time.Time{}
	for running := true; running; {
		select {
		case <-ended:
			running = false
		case <-time.After(20 * time.Millisecond):
			l.peak = max(l.peak, highWater(c.Process.Pid))
			if stop > 0 && told.IsZero() && time.Since(begun) > stop {
				told = time.Now()
				c.Process.Signal(os.Interrupt)
			}
		}
	}
	l.took = time.Since(begun)
	if !told.IsZero() {
		l.stopping = time.Since(told)
	}
	l.code, l.stdout = c.ProcessState.ExitCode(), stdout.String()
	l.shown = strings.Split(strings.ReplaceAll(said(), "\x1b[K", ""), "\r")
	return l
}

// highWater is the most memory that a process has had, in bytes; 0 if it is gone.
func highWater(pid int) int64 {
	status, _ := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	for line := range strings.Lines(string(status)) {
		var kib int64
		if n, _ := fmt.Sscanf(line, "VmHWM: %d kB", &kib); n == 1 {
			return kib << 10
		}
	}
	return 0
}

// within wants a run to have taken no more memory than so many recordings at a time may.
func (l loaded) within(t *testing.T, what string, atATime int64) {
	t.Helper()
	if l.peak == 0 || l.peak > atATime*mostMemory {
		t.Errorf("%s: %d MiB of memory, for %d at a time", what, l.peak>>20, atATime)
	}
}

// numbers are what a pattern finds in the lines that were shown: its first group.
func (l loaded) numbers(pattern string) (found []string) {
	find := regexp.MustCompile(pattern)
	for _, s := range l.shown {
		if m := find.FindStringSubmatch(s); m != nil {
			found = append(found, m[1])
		}
	}
	return found
}

// blockNames are names with a character of every sixteen that have one, a name for each 256:
// Unicode's blocks begin at multiples of sixteen (The Unicode Standard, 3.4, D10b). Others
// follow that are long or odd.
func blockNames(n int) (names []string) {
	for page := rune(0); page <= unicode.MaxRune; page += 256 {
		name := ""
		for column := page; column < page+256; column += 16 {
			for r := column; r < column+16; r++ {
				if unicode.IsGraphic(r) && r != '/' {
					name += string(r)
					break
				}
			}
		}
		if name != "" {
			names = append(names, "a"+name+"a")
		}
	}
	names = append(names, strings.Repeat("l", 251), "-dash", " space", "two\nlines", "\xff\xfe", "e\u0301",
		"\u00e9", "a'b\"c", "%s%n", "$(x)", "~", "a\tb", "con", "*?", "&<>", "\x1b[2J", "a.wav.wav", "\\")
	for i := len(names); i < n; i++ {
		names = append(names, fmt.Sprint("take ", i))
	}
	return names[len(names)-min(n, len(names)):]
}

// A batch of many recordings with names of every kind: each gets its tab, the memory is that
// of those that are heard at a time, the terminal counts them, Ctrl-C ends it, and the next
// run goes on.
func TestLoadOfRecordings(t *testing.T) {
	self, dir := built(t), t.TempDir()
	sound := wavOf(t, tone(0.5))
	names := blockNames(*recordings)
	for _, name := range names {
		put(t, dir, name+".wav", sound)
	}
	args := []string{"transcribe", ".", "--harp", "C", "--ear", "classical", "--jobs", "2"}
	half := load(t, self, dir, time.Duration(*recordings)*5*time.Millisecond, args...)
	half.within(t, "stopped", 2)
	if half.code != exitFailed || len(half.numbers("(goes on from here)")) != 1 {
		t.Errorf("stopped: exit code %d, %q", half.code, half.shown[max(0, len(half.shown)-3):])
	}
	l := load(t, self, dir, 0, args...)
	l.within(t, "all", 2)
	if want := fmt.Sprintf("%d recordings: ", len(names)); l.code != 0 || !strings.Contains(l.stdout, want) ||
		!strings.Contains(l.stdout, " 0 kept, 0 failed.") {
		t.Errorf("exit code %d: %s", l.code, l.stdout[max(0, len(l.stdout)-200):])
	}
	counted := l.numbers(fmt.Sprintf(`^(\d+) of %d recordings done`, len(names)))
	for i, n := range counted {
		if n != fmt.Sprint(i) {
			t.Errorf("%s recordings are done after %d", n, i)
			break
		}
	}
	if len(counted) != len(names) {
		t.Errorf("%d lines of progress for %d recordings", len(counted), len(names))
	}
	for _, name := range names {
		text, err := os.ReadFile(filepath.Join(dir, name+".tab"))
		if err != nil {
			t.Errorf("%q: %v", name, err)
			continue
		}
		d, err := tab.Parse(bytes.NewReader(text))
		want := strings.TrimSpace(tab.OneLine(name + ".wav"))
		if err != nil || len(d.Events) != 1 || d.Recording != want {
			t.Errorf("%q: %v, %d events of %q", name, err, len(d.Events), d.Recording)
		}
	}
	again := load(t, self, dir, 0, args...)
	if want := fmt.Sprintf("0 written, %d up to date, 0 kept, 0 failed.", len(names)); again.code != 0 ||
		!strings.Contains(again.stdout, want) {
		t.Errorf("again: exit code %d: %s", again.code, again.stdout[max(0, len(again.stdout)-200):])
	}
	t.Logf("%d recordings: peak %d MiB, stopped within %v", len(names), max(l.peak, half.peak)>>20,
		half.stopping.Round(10*time.Millisecond))
}

// A folder of many files with ten recordings among them.
func TestLoadOfFiles(t *testing.T) {
	self, dir := built(t), t.TempDir()
	for i := range *crowd {
		put(t, dir, fmt.Sprintf("%06d.txt", i), nil)
	}
	for i := range 10 {
		put(t, dir, fmt.Sprintf("%06d.wav", i**crowd/10), wavOf(t, tone(0.5)))
	}
	l := load(t, self, dir, 0, "transcribe", ".", "--harp", "C", "--ear", "classical", "--jobs", "2")
	l.within(t, "folder", 2)
	if l.code != 0 || !strings.Contains(l.stdout, "10 recordings: 10 written") {
		t.Errorf("exit code %d: %s", l.code, l.stdout)
	}
	t.Logf("%d files, 10 recordings: peak %d MiB", *crowd, l.peak>>20)
}

// longFormats are how a long recording is made in each format from WAV.
var longFormats = map[string][]string{
	"long.flac": {"flac", "--silent", "-o", "long.flac", "long.wav"},
	"long.mp3":  {"lame", "--quiet", "-b", "64", "long.wav", "long.mp3"},
	"long.ogg":  {"oggenc", "--quiet", "-o", "long.ogg", "long.wav"},
	"long.m4a":  {"ffmpeg", "-loglevel", "error", "-i", "long.wav", "long.m4a"},
}

// A recording of hours in every format: the memory stays that of a short one but for what is
// kept of each second, the progress is true, Ctrl-C ends it, and a section at the end costs
// no more than at the beginning.
func TestLoadOfHours(t *testing.T) {
	self, dir := built(t), t.TempDir()
	clip, _, _, err := decode.Load(put(t, t.TempDir(), demo.Name, demo.Recording()), decode.Options{})
	if err != nil {
		t.Fatal(err)
	}
	seconds := *minutes * 60
	var b bytes.Buffer
	times := int(seconds*float64(clip.Rate))/len(clip.Samples) + 1
	if err := decode.WriteWAV(&b, clip); err != nil {
		t.Fatal(err)
	}
	put(t, dir, "demo.wav", b.Bytes())
	run := func(name string, args ...string) {
		t.Helper()
		programs.Need(t, name)
		c := exec.Command(name, args...)
		c.Dir = dir
		if out, err := c.CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
	}
	run("sox", "demo.wav", "long.wav", "repeat", fmt.Sprint(times-1))
	length := float64(times*len(clip.Samples)) / float64(clip.Rate)
	for _, name := range append([]string{"long.wav"}, slices.Sorted(maps.Keys(longFormats))...) {
		if how := longFormats[name]; how != nil {
			run(how[0], how[1:]...)
		}
		l := load(t, self, dir, 0, "transcribe", name, "--harp", "A", "-o", name+".tab")
		events := checkLong(t, l, filepath.Join(dir, name+".tab"), name, length)
		end := load(t, self, dir, 0, "transcribe", name, "--harp", "A", "--from", fmt.Sprint(length-20))
		stop := load(t, self, dir, min(l.took/3, 10*time.Second), "transcribe", name, "--harp", "A")
		if end.code != 0 || stop.code != exitFailed || stop.stdout != "" {
			t.Errorf("%s: exit codes %d and, when stopped, %d", name, end.code, stop.code)
		}
		end.within(t, name+", its end", 1)
		stop.within(t, name+", stopped", 1)
		t.Logf("%-9s %s, %d events, peak %3d MiB, at its end %3d MiB, stopped within %v",
			name, decode.Clock(length), events, l.peak>>20, end.peak>>20, stop.stopping.Round(10*time.Millisecond))
		if name != "long.wav" {
			os.Remove(filepath.Join(dir, name))
		}
	}
}

// checkLong checks a run over a recording of so many seconds and counts the events of its tab.
func checkLong(t *testing.T, l loaded, path, name string, length float64) int {
	t.Helper()
	l.within(t, name, 1)
	if l.code != 0 {
		t.Fatalf("%s: exit code %d, %q", name, l.code, l.shown[max(0, len(l.shown)-3):])
	}
	before := -1.0
	for _, s := range l.numbers(`\] ([0-9:.]+) of ` + regexp.QuoteMeta(decode.Clock(length))) {
		at, err := decode.ParseTime(s)
		if err != nil || at < before || at > length+1 {
			t.Errorf("%s: after %g s %q is done (%v)", name, before, s, err)
		}
		before = at
	}
	if before < length-70 { // the last window
		t.Errorf("%s: the last progress is %g s of %g", name, before, length)
	}
	d, err := tab.Parse(strings.NewReader(read(t, path)))
	if err != nil || len(d.Events) == 0 || d.Events[len(d.Events)-1].End < length-20 {
		t.Errorf("%s: %d events, %v", name, len(d.Events), err)
	}
	return len(d.Events)
}
