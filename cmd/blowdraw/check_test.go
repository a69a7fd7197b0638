package main

import (
	"bytes"
	"context"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// fed runs a command line in this process with standard input.
func fed(stdin string, args ...string) (code int, stdout, stderr string) {
	in, err := os.CreateTemp("", "blowdraw-stdin")
	if err != nil {
		panic(err)
	}
	defer os.Remove(in.Name())
	defer in.Close()
	in.WriteString(stdin)
	in.Seek(0, 0)
	keyboard := os.Stdin
	os.Stdin = in
	defer func() { os.Stdin = keyboard }()
	var out, trouble bytes.Buffer
	code = run(context.Background(), args, &out, &trouble)
	return code, out.String(), trouble.String()
}

const tabHead = "blowdraw tab 1\nharp: A\nsong: E\n"

func TestCheckByItself(t *testing.T) {
	for _, c := range []struct {
		name, body string
		problems   int
		say        []string
	}{
		{"good", "0:01 0.5 -2\n0:01.5 0.5 -3'\n", 0,
			[]string{"2 events, 0 phrases, A harp, second position in E",
				"Every note is playable and the times are in order."}},
		{"doubt", "0:01 0.5 -2 ?\n", 0, []string{"1 event still marked as doubtful."}},
		{"nothing", "", 0, []string{"0 events"}},
		{"unplayable", "0:01 0.5 -5'\n0:02 0.5 4'\n0:03 1 11\n", 3,
			[]string{"line 4, column 10: -5': draw 5 of this harp does not bend", "    0:01 0.5 -5'",
				"line 5, column 10: 4'", "line 6, column 8: 11: this harp has holes 1 to 10"}},
		{"breath", "0:01 0.5 [-4 5]\n", 1, []string{"blow and draw notes together"}},
		{"order", "0:01 0.5 -2\n0:03 0.5 -3\n0:02 0.5 4\n", 1,
			[]string{"line 6, column 1: starts before the event above it, at 0:03.000"}},
		{"overlap", "0:01 0.5 -2\n0:01.3 0.5 4\n", 1,
			[]string{"line 4: 0:01.000  -2 reaches 0.200 s into the next event, which has the other breath"}},
		{"no length", "0:01 0 -2\n", 1, []string{"line 4: 0:01.000  -2 has no length"}},
		{"section", "section: 0:05 to 0:06\n0:01 0.5 -2\n0:05.5 0.5 -2\n", 1,
			[]string{"line 5: 0:01.000  -2 lies outside the section"}},
	} {
		code, stdout, stderr := fed(tabHead+c.body, "check", "-")
		for _, say := range c.say {
			if !strings.Contains(stdout, say) {
				t.Errorf("%s: no %q in\n%s", c.name, say, stdout)
			}
		}
		if c.problems == 0 && (code != 0 || stderr != "") {
			t.Errorf("%s: exit code %d, stderr %q", c.name, code, stderr)
		}
		if want := "blowdraw: standard input: " + count(c.problems, "problem") + "\n"; c.problems > 0 &&
			(code != exitFailed || stderr != want) {
			t.Errorf("%s: exit code %d, stderr %q, want %q", c.name, code, stderr, want)
		}
	}
}

func TestCheckTrouble(t *testing.T) {
	dir := t.TempDir()
	good := put(t, dir, "good.tab", []byte(tabHead+"0:00.1 0.5 -2\n"))
	sound := put(t, dir, "tone.wav", wavOf(t, tone(1)))
	for _, c := range []struct {
		args []string
		code int
		say  string
	}{
		{nil, 2, "one tab"},
		{[]string{good, good}, 2, "one tab"},
		{[]string{""}, 2, "one tab"},
		{[]string{filepath.Join(dir, "none.tab")}, 1, "no such file"},
		{[]string{dir}, 1, "directory"},
		{[]string{put(t, dir, "empty.tab", nil)}, 1, "not a tab document"},
		{[]string{sound}, 1, "it is a recording, not a tab"},
		{[]string{put(t, dir, "nokey.tab", []byte("blowdraw tab 1\nsong: G\n0:01 1 4\n"))}, 1,
			`no "harp" line`},
		{[]string{good, "--recording", ""}, 2, "--recording"},
		{[]string{good, "--all"}, 2, "--all"},
		{[]string{good, "--ear", "classical"}, 2, "--ear"},
		{[]string{good, "--recording", filepath.Join(dir, "none.wav")}, 1, "none.wav"},
		{[]string{good, "--recording", sound, "--ear", "third"}, 2, "third"},
		{[]string{good, "--recording", sound, "--channel", "third"}, 2, "third"},
		{[]string{good, "--recording", sound, "--channel", "side"}, 1, "one channel"},
	} {
		code, stdout, stderr := command(append([]string{"check"}, c.args...)...)
		checkTrouble(t, code, stdout, stderr, c.code, c.say)
	}
}

// The demo's own tab agrees with its recording; notes changed, moved, taken out and
// invented are told, the worst first.
func TestCheckAgainstRecording(t *testing.T) {
	wav, text := demoFiles(t)
	lines := strings.Split(string(text), "\n")
	find := func(start string) int {
		for i, l := range lines {
			if strings.HasPrefix(l, start) {
				return i
			}
		}
		t.Fatalf("no line %q in\n%s", start, text)
		return 0
	}
	first := find("0:01.3") // the third note, draw 4
	if !strings.Contains(lines[first], "-4") {
		t.Fatalf("the third note is %q", lines[first])
	}
	lines[first] = "0:01.312 0.476 -6 # not so"
	moved := find("0:02.7")
	lines[moved] = strings.Replace(lines[moved], "0:02.7", "0:02.8", 1)
	gone := find("0:06.3")
	lines = append(lines[:gone], lines[gone+1:]...)
	code, stdout, stderr := fed(strings.Join(lines, "\n"), "check", "-", "--recording", wav)
	if code != 0 || stderr != "" {
		t.Fatalf("exit code %d, stderr %q", code, stderr)
	}
	_, table, _ := strings.Cut(stdout, "what is heard\n")
	rows := strings.Split(table, "\n")
	if f := strings.Fields(rows[0]); len(f) < 4 || f[1] != "0:01.312" || f[2] != "-6" || f[3] != "0%" ||
		!strings.Contains(rows[0], "likelier -4 at 0:01.3") {
		t.Errorf("worst: %q", rows[0])
	}
	for _, say := range []string{"begins at 0:02.7", "0.10 s before", "Heard, but not written:", "\n0:06.3"} {
		if !strings.Contains(stdout, say) {
			t.Errorf("no %q in\n%s", say, stdout)
		}
	}
	if doubtful, _, _ := strings.Cut(table, "\n\n"); strings.Count(doubtful, "\n") > 6 {
		t.Errorf("more doubt than two changes and what the tab itself doubts:\n%s", stdout)
	}
	code, stdout, _ = fed(string(text), "check", "-", "--recording", wav, "--all")
	if _, table, _ := strings.Cut(stdout, "what is heard\n"); code != 0 || strings.Count(table, "\n") != 26 {
		t.Errorf("exit code %d, --all lists\n%s", code, stdout)
	}
}

func TestCentsText(t *testing.T) {
	for want, cents := range map[string][]float64{
		"12 cents flat": {-12}, "3 and 8 cents sharp": {3, 8.2}, "11 and 10 cents flat": {-11, -10.4},
		"in tune":                        {0.2, -0.1},
		"3 cents sharp and 8 cents flat": {3, -8}, "in tune and 4 cents sharp": {0, 4}, "": {1, math.NaN()},
	} {
		if got := centsText(cents); got != want {
			t.Errorf("%v: %q, want %q", cents, got, want)
		}
	}
}
