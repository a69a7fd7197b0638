package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"blowdraw/tabber/tab"
)

// There and back: what is exported for others is the same tab when it comes home.
func TestExportImport(t *testing.T) {
	dir := t.TempDir()
	_, tabFile := demoTabFile(t, dir)
	f, err := os.Open(tabFile)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	want, err := tab.Parse(f)
	if err != nil {
		t.Fatal(err)
	}
	for as, name := range map[string]string{"midi": "x.mid", "musicxml": "x.musicxml"} {
		out := filepath.Join(dir, name)
		mustRun(t, "export", tabFile, "--as", as, "-o", out)
		d, err := tab.Parse(strings.NewReader(mustRun(t, "import", out, "--harp", "A")))
		if err != nil {
			t.Fatal(err)
		}
		if tokensOf(d) != tokensOf(want) || d.SongKey != want.SongKey || len(d.Phrases) != 3 {
			t.Errorf("%s: %s, %d phrases; want %s", as, tokensOf(d), len(d.Phrases), tokensOf(want))
		}
	}
}

func TestExportForms(t *testing.T) {
	dir := t.TempDir()
	_, tabFile := demoTabFile(t, dir)
	for as, begins := range map[string]string{
		"vtt": "WEBVTT\n", "srt": "1\n00:00:00,6", "sheet": "# demo\n", "csv": "start,", "json": "{",
		"musicxml": "<?xml",
	} {
		if got := mustRun(t, "export", tabFile, "--as", as); !strings.HasPrefix(got, begins) {
			t.Errorf("%s begins %.40q", as, got)
		}
	}
	out := filepath.Join(dir, "x.html")
	mustRun(t, "export", tabFile, "--as", "sheet", "-o", out)
	if b, err := os.ReadFile(out); err != nil || !strings.HasPrefix(string(b), "<!doctype html>") {
		t.Errorf("%.40q, %v", b, err)
	}
}

// The section begins at 0:10 of the recording and at 0:03 of the video.
func TestExportOffset(t *testing.T) {
	dir := t.TempDir()
	path := put(t, dir, "x.tab", []byte("blowdraw tab 1\nsection: 0:10 to 0:20\nharp: A\n"+
		"song: E\n0:12.5 1 -2\n"))
	for _, c := range []struct{ offset, want string }{{"", "00:00:12.500 -->"}, {"0", "00:00:02.500 -->"},
		{"0:03", "00:00:05.500 -->"}} {
		args := []string{"export", path, "--as", "vtt"}
		if c.offset != "" {
			args = append(args, "--offset", c.offset)
		}
		if got := mustRun(t, args...); !strings.Contains(got, c.want) {
			t.Errorf("--offset %q: %s, want %s", c.offset, got, c.want)
		}
	}
}

func TestExportUsage(t *testing.T) {
	dir := t.TempDir()
	recording, tabFile := demoTabFile(t, dir)
	empty := put(t, dir, "empty.tab", []byte("blowdraw tab 1\nharp: A\nsong: E\n"))
	text := put(t, dir, "text.txt", []byte("no music"))
	silent := put(t, dir, "silent.xml", []byte("<score-partwise><part "+
		"id='a'><measure/></part></score-partwise>"))
	for _, c := range []struct {
		args []string
		code int
		say  string
	}{
		{[]string{"export", tabFile}, exitUsage, "as what"},
		{[]string{"export", tabFile, "--as", "pdf"}, exitUsage, `"pdf"`},
		{[]string{"export", tabFile, "--as", "midi"}, exitUsage, "-o NAME.mid"},
		{[]string{"export", tabFile, "--as", "csv", "--offset", "3"}, exitUsage, "vtt and srt"},
		{[]string{"export", tabFile, "--as", "vtt", "--offset", "soon"}, exitUsage, "--offset"},
		{[]string{"export", tabFile, "--as", "vtt", "--cue", "word"}, exitUsage, "--cue"},
		{[]string{"export", tabFile, "--as", "csv", "--student"}, exitUsage, "are for a sheet"},
		{[]string{"export", empty, "--as", "vtt"}, exitFailed, "nothing is played"},
		{[]string{"export", tabFile, "--as", "csv", "-o", recording}, exitFailed, "exists already"},
		{[]string{"import", text, "--harp", "A"}, exitFailed, "it has no notes"},
		{[]string{"import", silent, "--harp", "A"}, exitFailed, "no notes"},
		{[]string{"import", silent}, exitUsage, "which harp"},
		{[]string{"import", dir + "/none.mid", "--harp", "A"}, exitFailed, "no such file"},
	} {
		code, _, stderr := command(c.args...)
		if code != c.code || !strings.Contains(stderr, c.say) {
			t.Errorf("%v: exit code %d, %q; want %d and %q", c.args, code, stderr, c.code, c.say)
		}
	}
}

// Bars laid over a tab stand in it, in the notation and in the sheet.
func TestExportLaysBars(t *testing.T) {
	dir := t.TempDir()
	solo := put(t, dir, "solo.tab", []byte(phrasedTab))
	barred := filepath.Join(dir, "barred.tab")
	code, stdout, stderr := command("export", solo, "--as", "tab", "--bar-at", "1", "-o", barred)
	if code != 0 || stdout != "" || stderr != "" {
		t.Fatalf("exit code %d, %s%s", code, stdout, stderr)
	}
	text := read(t, dir, "barred.tab")
	for _, want := range []string{"\nmeter:     4/4\n", "\nbar 1  0:01.000\n", "\nbar 3  0:05.000\n", "3|1"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
	_, fromTab, _ := command("export", barred, "--as", "musicxml")
	code, laid, stderr := command("export", solo, "--as", "musicxml", "--bar-at", "1")
	if code != 0 || stderr != "" || strings.ReplaceAll(laid, "solo", "barred") != fromTab {
		t.Errorf("exit code %d, %s: notation of the tab with bars laid is not that of the barred tab",
			code, stderr)
	}
	code, _, stderr = command("export", solo, "--as", "musicxml")
	if code != 0 || !strings.Contains(stderr, "--bar-at 0:01.000") {
		t.Errorf("exit code %d, %s", code, stderr)
	}
	code, stdout, stderr = command("export", solo, "--as", "sheet")
	if code != 0 || !strings.Contains(stderr, "--bar-at 0:01.000") || strings.Contains(stdout, "| 1") {
		t.Errorf("sheet without bars: exit code %d, %s\n%s", code, stderr, stdout)
	}
	sheet := mustRun(t, "export", barred, "--as", "sheet", "--student")
	if !strings.Contains(sheet, "| 1 ") || strings.Contains(sheet, "by ear") {
		t.Errorf("a student's sheet of the barred tab:\n%s", sheet)
	}
	code, stdout, stderr = command("export", solo, "--as", "tab", "--meter", "3/4")
	checkTrouble(t, code, stdout, stderr, exitFailed, "--bar-at TIME")
}

// A tempo or a meter moves the bars that a tab has, from bar 1 on; chords stay with their bars as
// long as the meter does. Worked out by hand: bars of four beats at 100 a minute last 2.4 s, of
// three 1.8 s.
func TestExportMovesBars(t *testing.T) {
	dir := t.TempDir()
	barred := put(t, dir, "barred.tab", []byte("blowdraw tab 1\nharp: A\nsong: E\ntempo: 120 bpm\n"+
		"meter: 4/4\n"+
		"form: twelve-bar\nbar 0 0:00 V\nbar 1 0:02 I\nbar 2 0:04 IV\n0:00.5 0.5 -2\n0:05 0.5 -4\n"))
	for args, want := range map[string][]string{
		"--bpm 100": {"tempo:     100.0 bpm", "form:      twelve-bar",
			"bar 1  0:02.000  I\n", "bar 2  0:04.400  IV\n"},
		"--bpm 100 --meter 3/4": {"meter:     3/4", "bar 0  0:00.200\n", "bar 1  0:02.000\n", "bar 2  0:03.800\n"},
		"--meter 3/4":           {"tempo:     120.0 bpm", "bar 0  0:00.500\n", "bar 3  0:05.000\n"},
	} {
		out := mustRun(t, append([]string{"export", barred, "--as", "tab"}, strings.Fields(args)...)...)
		for _, w := range want {
			if !strings.Contains(out, w) {
				t.Errorf("%s: no %q in\n%s", args, w, out)
			}
		}
		if strings.Contains(args, "3/4") && strings.Contains(out, "twelve-bar") {
			t.Errorf("%s: the form is still there", args)
		}
	}
}

// Taps that are late lie on the notes again, by themselves or by what --tap-delay says; the tab says
// by how much.
func TestTapDelay(t *testing.T) {
	dir := t.TempDir()
	var notes, late strings.Builder
	notes.WriteString("blowdraw tab 1\nharp: A\nsong: E\n")
	for k := range 12 {
		at := 1 + 0.6*float64(k)
		fmt.Fprintf(&notes, "0:%06.3f 0.5 %s\n", at, []string{"-2", "4"}[k%2])
		fmt.Fprintf(&late, "%.3f %d\n", at+0.09, k%4+1)
	}
	solo, taps := put(t, dir, "solo.tab", []byte(notes.String())), put(t, dir, "taps.txt", []byte(late.String()))
	for args, want := range map[string]string{
		"":               "bar 1  0:01.000\n",
		"--tap-delay 0":  "bar 1  0:01.090\n",
		"--tap-delay 40": "bar 1  0:01.050\n",
	} {
		all := append([]string{"export", solo, "--as", "tab", "--taps", taps}, strings.Fields(args)...)
		out := mustRun(t, all...)
		if !strings.Contains(out, want) || strings.Contains(out, "ms late") == (args == "--tap-delay 0") {
			t.Errorf("%s: no %q, or not what it was, in\n%s", args, want, out)
		}
	}
	for args, say := range map[string]string{
		"--tap-delay 40":                  "goes with --taps",
		"--tap-delay 4000 --taps " + taps: "want -1000 to 1000 ms",
	} {
		code, _, told := command(append([]string{"export", solo, "--as", "tab"}, strings.Fields(args)...)...)
		if code != exitUsage || !strings.Contains(told, say) {
			t.Errorf("%s: exit code %d, %q; want %q", args, code, told, say)
		}
	}
}
