package main

import (
	"bytes"
	"math"
	"os"
	"strings"
	"testing"

	"blowdraw/cmd/blowdraw/demo"
	"blowdraw/tabber/tab"
)

// Texts as hands write them, for a C harp: what stands in the tab, and what is told.
func TestImportText(t *testing.T) {
	dir := t.TempDir()
	for _, c := range []struct{ in, args, want, say string }{
		{"-2 -3b 4 -4 | 5 -5\nwoke up\n", "--harp C", "bar 2  0:02.000\n0:02.000   1.000  2|1  5    6\n", ""},
		{"-2 -3b 4 -4 | 5 -5\nwoke up\n", "--harp C", "# woke up\n", ""},
		{"Harp: C\n4 5", "", "harp:      C", ""},
		{"4 5", "--harp C --bpm 60", "0:01.000   1.000  5", ""},
		{"4 | 5", "--harp C --bpm 60 --meter 3/4", "bar 2  0:03.000", ""},
		{"4 -9'", "--harp C", "# not understood: -9'", "line 1, column 3: -9'"},
		{"4 5", "--harp C --song-key Am", "song:      Am, fourth position\n", ""},
		{"4 5", "--harp C", "song:      G, second position (assumed)\n", ""},
		{"4 5 6 7 -7 7 6 5 4 4 5 6 7 -8 8 7 -7 7 6 7 7 4 4 7 8 9 8 7 7\n", "--harp C",
			"song:      C, first position\n", ""},
		{"-4 -4 -5 -6 6 -5 -4 -4 -8 -8 -6 -5 -4 -4 4 -4 -5 -6 -8 -4\n", "--harp C",
			"song:      D, third position\n", ""},
		// with times: no first line, no header, seconds with a point
		{"harp: C\nsong: G\n15.557 0.3 -4\n", "", "0:15.557   0.300  -4", ""},
		{"15.557 0.3 -4\n16 4\n", "--harp C", "0:15.557   0.300  -4", "line 2, column 1: 16: this harp has holes"},
		{"0:15.5 0.3 -4 scoop\n", "--harp C --song-key C", "song:      C, first position\n", ""},
		{"blowdraw tab 1\nharp: A\nsong: E\n-4", "--harp A", "harp:      A", ""},
	} {
		args := append([]string{"import", put(t, dir, "a.txt", []byte(c.in))}, strings.Fields(c.args)...)
		code, stdout, told := command(args...)
		if code != 0 || !strings.Contains(stdout, c.want) {
			t.Errorf("%q %s: exit code %d, no %q in\n%s%s", c.in, c.args, code, c.want, stdout, told)
		}
		if (c.say == "") != (told == "") || !strings.Contains(told, c.say) {
			t.Errorf("%q: told %q, want %q", c.in, told, c.say)
		}
	}
	for _, c := range []struct{ in, args, say string }{
		{"4 5", "", "which harp?"},
		{"no tab here\n", "--harp C", "it has no notes, such as 4"},
		{"", "--harp C", "a.txt: "},
		{"0:01 4", "", "does not say which harp"},
		{"harp: C\n0:01 4", "--harp A", "is for the C harp"},
		{"harp: C\n0:01 4", "--recording x.wav", "has some"},
		{"4 5", "--harp C --part 2", "--part is for a MIDI file"},
		{"4 5", "--harp C --from 3", "--from goes with --recording"},
		{"4 5", "--harp C --bpm 5", "want 20 to 400"},
		{"4 5", "--harp C --recording x.wav --bpm 90", "can't be given as well"},
		{"4 5", "--harp C --recording x.wav", "there is no such file"},
	} {
		args := append([]string{"import", put(t, dir, "a.txt", []byte(c.in))}, strings.Fields(c.args)...)
		if code, _, told := command(args...); code == 0 || !strings.Contains(told, c.say) {
			t.Errorf("%q %s: exit code %d, %q; want %q", c.in, c.args, code, told, c.say)
		}
	}
}

// The demo's tab written down without times, one note of it wrong, is found in the demo's
// recording; what comes out is a tab that check reads.
func TestImportWithRecording(t *testing.T) {
	dir := t.TempDir()
	recording, _ := demoTabFile(t, dir)
	truth := demo.Truth()
	text := "Demo\n"
	const wrong = 3
	for i, e := range truth {
		switch token := tab.Token(e.Actions); {
		case i == wrong:
			text += "9 "
		case i%6 == 5:
			text += token + "\nla la\n"
		default:
			text += token + " "
		}
	}
	out := dir + "/fitted.tab"
	page := put(t, dir, "page.txt", []byte(text))
	code, _, told := command("import", page, "--harp", "A", "--recording", recording, "-o", out)
	if code != 0 || !strings.Contains(told, "line 2: 9, note 4, about") {
		t.Fatalf("exit code %d, told %s", code, told)
	}
	data, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	d, err := tab.Parse(bytes.NewReader(data))
	if err != nil || len(d.Events) != len(truth) {
		t.Fatalf("%d events, %v", len(d.Events), err)
	}
	near := 0
	for i, e := range d.Events {
		if math.Abs(e.Start-truth[i].Start) < 0.06 {
			near++
		}
		if i == wrong && !e.Doubtful() {
			t.Errorf("the wrong note is %+v", e)
		}
	}
	if near < len(truth)-1 {
		t.Errorf("%d of %d notes are where they are played", near, len(truth))
	}
	if n := strings.Count(string(data), "# la la"); n != len(truth)/6 {
		t.Errorf("%d lines of words, want %d", n, len(truth)/6)
	}
	if checked := mustRun(t, "check", out); !strings.Contains(checked, "Every note is playable") {
		t.Errorf("%s", checked)
	}
}
