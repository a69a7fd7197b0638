package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"blowdraw/tabber/tab"
)

// lineTab is a phrase that begins and ends on the key note (common practice, no
// source: E on an A harp in second position is draw 2).
const lineTab = tabHead + "tuning: 12 cents flat\nPhrase\n0:01 0.4 -2 # home\n0:01.5 0.4 -3'\n" +
	"0:02 0.4 -4\n0:02.5 0.4 [-4 -5 -6] ?\n0:03 0.9 -2\n"

func retabbed(t *testing.T, args ...string) (d tab.Document, stderr string) {
	t.Helper()
	code, stdout, stderr := fed(lineTab, append([]string{"retab", "-"}, args...)...)
	if code != 0 {
		t.Fatalf("exit code %d, %s", code, stderr)
	}
	d, err := tab.Parse(strings.NewReader(stdout))
	if err != nil {
		t.Fatal(err)
	}
	return d, stderr
}

func tokensOf(d tab.Document) string {
	var out []string
	for _, e := range d.Events {
		out = append(out, d.EventToken(e))
	}
	return strings.Join(out, " ")
}

// Circle of fifths: common practice, no source.
func TestRetab(t *testing.T) {
	for _, c := range []struct {
		args   []string
		want   string
		song   string
		flags  int
		tuning float64
	}{
		{[]string{"--harp", "C", "--position", "2"}, "-2 -3' -4 [-4 -5 -6] -2", "G", 0, 0},
		{[]string{"--harp", "C", "--keep", "holes"}, "-2 -3' -4 [-4 -5 -6] -2", "G", 0, 0},
		{[]string{"--harp", "A"}, "-2 -3' -4 [-4 -5 -6] -2", "E", 0, -12},
		// In first position only the blow bends of the top octave have the flat third.
		{[]string{"--harp", "E"}, "7 8' 9 {B6 D7 F#7} 7", "E", 1, 0},
		{[]string{"--harp", "A", "--position", "1"}, "7 8' 9 {E6 G6 B6} 7", "A", 1, 0},
	} {
		d, stderr := retabbed(t, c.args...)
		if tokensOf(d) != c.want || d.Harp.KeyName(d.SongKey) != c.song || d.TuningCents != c.tuning ||
			strings.Count(stderr, "does not have") != c.flags {
			t.Errorf("%v: %s in %s, %g cents; want %s in %s, %g cents; stderr %q",
				c.args, tokensOf(d), d.Harp.KeyName(d.SongKey), d.TuningCents, c.want, c.song, c.tuning,
				stderr)
		}
		if len(d.Events) != 5 || d.Events[0].Comment != "home" || len(d.Phrases) != 1 || len(d.Notes) != 1 {
			t.Errorf("%v: %+v", c.args, d)
		}
	}
}

func TestRetabToFile(t *testing.T) {
	dir := t.TempDir()
	in := put(t, dir, "a.tab", []byte(lineTab+"nonsense\n"))
	out := filepath.Join(dir, "b.tab")
	code, stdout, stderr := command("retab", in, "--harp", "C", "--keep", "holes", "-o", out)
	if code != 0 || stdout != "" || !strings.Contains(stderr, "line 11, column 1") {
		t.Fatalf("exit code %d, stdout %q, stderr %q", code, stdout, stderr)
	}
	text, err := os.ReadFile(out)
	if err != nil || !strings.Contains(string(text), "# not understood: nonsense") {
		t.Errorf("%v\n%s", err, text)
	}
}

func TestRetabTrouble(t *testing.T) {
	dir := t.TempDir()
	good := put(t, dir, "good.tab", []byte(lineTab))
	for _, c := range []struct {
		args []string
		code int
		say  string
	}{
		{nil, 2, "one tab"},
		{[]string{good}, 2, "which harp"},
		{[]string{good, "--harp", "H"}, 2, `"H"`},
		{[]string{good, "--harp", "C", "--layout", "spiral"}, 2, "spiral"},
		{[]string{good, "--harp", "C", "--position", "13"}, 2, "--position"},
		{[]string{good, "--harp", "C", "--position", "0"}, 2, "--position"},
		{[]string{good, "--harp", "C", "--keep", "time"}, 2, "--keep"},
		{[]string{good, "--harp", "C", "--keep", "holes", "--position", "2"}, 2, "--position"},
		{[]string{good, "--harp", "C", "--keep", "holes", "--overbends"}, 2, "--overbends"},
		{[]string{good, "--harp", "C", "--format", "xml"}, 2, "xml"},
		{[]string{good, "--harp", "C", "-o", ""}, 2, "--output"},
		{[]string{good, "--harp", "C", "-o", good}, 1, "exists"},
		{[]string{filepath.Join(dir, "none"), "--harp", "C"}, 1, "no such file"},
		{[]string{put(t, dir, "text", []byte("hello\n")), "--harp", "C"}, 1, "not a tab document"},
	} {
		code, stdout, stderr := command(append([]string{"retab"}, c.args...)...)
		checkTrouble(t, code, stdout, stderr, c.code, c.say)
	}
}

// Another position of the harp that the tab has, which need not be named again.
func TestRetabPositionAlone(t *testing.T) {
	code, named, _ := fed(phrasedTab, "retab", "-", "--harp", "A", "--position", "3")
	code2, alone, stderr := fed(strings.Replace(phrasedTab, "harp: C", "harp: A", 1), "retab", "-",
		"--position", "3")
	if code != 0 || code2 != 0 || !strings.Contains(alone, "third position") ||
		!strings.Contains(named, "third position") {
		t.Errorf("exit codes %d and %d, %s\n%s", code, code2, stderr, alone)
	}
}
