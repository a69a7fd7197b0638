package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"blowdraw/tabber/formats/midi"
	"blowdraw/tabber/formats/musicxml"
	"blowdraw/tabber/lab/solos"
	"blowdraw/tabber/study"
	"blowdraw/tabber/tab"
)

// player is one whose vocabulary is known.
var player = solos.Player{
	Lean:  []solos.Lean{{Chord: "IV", Degree: "b7", Times: 12}},
	Rough: []solos.Rough{{Bars: []int{9, 10}, Chance: 0.9}},
	Moves: []solos.Move{{
		Notes: []string{"-2", "-3'", "4", "-4'", "4"}, Beats: []float64{0, 0.667, 1, 1.667, 2}, Bars: []int{3, 7},
		Chance: 0.8,
	}},
	Answers: 0.5,
}

// madeSolo is the tab of a solo as text.
func madeSolo(t *testing.T, seed uint64, choruses int, p solos.Player) string {
	t.Helper()
	d, err := solos.Solo(seed, solos.Kit{Harp: "C", Position: 2, BPM: 96, Choruses: choruses}, p)
	if err != nil {
		t.Fatal(err)
	}
	d.Recording = "solo.wav"
	var b bytes.Buffer
	if err := tab.WriteText(&b, d); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// All six parts in their order, each line within the width, and what was planted.
func TestStudyText(t *testing.T) {
	text := madeSolo(t, 1, 4, player)
	code, stdout, stderr := fed(text, "study", "-")
	if code != 0 || stderr != "" {
		t.Fatalf("exit code %d, %s", code, stderr)
	}
	at := 0
	for i, part := range study.Parts() {
		title := fmt.Sprintf("\n%d  %s%s\n", i+1, strings.ToUpper(part[:1]), part[1:])
		k := strings.Index(stdout, title)
		if k < at {
			t.Errorf("%q stands at %d, after %d in\n%s", title, k, at, stdout)
		}
		at = k
	}
	for _, want := range []string{
		"48 bars, 4.0 times through the twelve-bar form", "-2 -3' 4 -4' 4\n", "takes up phrase",
		"Never touched: b2",
	} {
		if !strings.Contains(stdout, want) {
			t.Errorf("no %q in\n%s", want, stdout)
		}
	}
	d, err := tab.Parse(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	for _, width := range []int{60, 80, 120} {
		for _, tabs := range [][]tab.Document{{d}, {d, d}} {
			var b bytes.Buffer
			names := []string{"one.tab", "another.tab"}[:len(tabs)]
			printStudy(&b, study.Of(tabs), names, width)
			if len(tabs) == 2 {
				printBeside(&b, study.Compare(tabs[:1], tabs[1:]), names[:1], names[1:], width)
			}
			for line := range strings.Lines(b.String()) {
				if n := utf8.RuneCountInString(strings.TrimRight(line, "\n")); n > width {
					t.Errorf("%d characters in %d: %s", n, width, line)
				}
			}
		}
	}
}

func TestStudyFormats(t *testing.T) {
	text := madeSolo(t, 1, 4, player)
	code, stdout, _ := fed(text, "study", "-", "--format", "json")
	var file studyFile
	if err := json.Unmarshal([]byte(stdout), &file); code != 0 || err != nil {
		t.Fatalf("exit code %d, %v", code, err)
	}
	if file.Summary.FormBars != 12 || len(file.Notes.Shares) != 4*12 || len(file.Moves) == 0 ||
		len(file.Time.Full) != 12 {
		t.Errorf("JSON: %+v, %d shares, %d moves", file.Summary, len(file.Notes.Shares), len(file.Moves))
	}
	code, stdout, _ = fed(text, "study", "-", "--format", "csv")
	rows, err := csv.NewReader(strings.NewReader(stdout)).ReadAll()
	if code != 0 || err != nil || len(rows) != 1+len(study.Rows(file.Study)) {
		t.Fatalf("exit code %d, %v, %d rows", code, err, len(rows))
	}
	for _, m := range file.Notes.Shares {
		if !slices.ContainsFunc(rows, func(r []string) bool {
			return r[1] == "shares" && r[2] == m.Name && r[3] == m.Over && r[4] == decimal(&m.Value)
		}) {
			t.Errorf("no row of %s over %q", m.Name, m.Over)
		}
	}
}

// Short solos are counted and not judged, whether there are bars or not.
func TestStudyShort(t *testing.T) {
	for _, text := range []string{barredTab, phrasedTab, tabHead + "0:01 1 -2\n"} {
		code, stdout, stderr := fed(text, "study", "-")
		if code != 0 || stderr != "" || !strings.Contains(stdout, "Fewer than 16 bars") ||
			!strings.Contains(stdout, "Too short to tell a move") || strings.Contains(stdout, "(p ") {
			t.Errorf("exit code %d, %s\n%s", code, stderr, stdout)
		}
	}
	code, stdout, _ := fed(barredTab, "study", "-", "--format", "json")
	if code != 0 || !strings.Contains(stdout, `"moves": []`) {
		t.Errorf("exit code %d\n%s", code, stdout)
	}
}

func TestStudyBeside(t *testing.T) {
	dir := t.TempDir()
	rough := solos.Player{Rough: []solos.Rough{{
		Bars: []int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}, Chance: 0.6,
	}}}
	a := put(t, dir, "a.tab", []byte(madeSolo(t, 21, 4, rough)))
	b := put(t, dir, "b.tab", []byte(madeSolo(t, 22, 4, solos.Player{})))
	code, stdout, stderr := command("study", a, b)
	if code != 0 || stderr != "" || !strings.Contains(stdout, "differ by more than chance, marked *") ||
		!strings.Contains(stdout, "\ndouble stop") {
		t.Errorf("exit code %d, %s\n%s", code, stderr, stdout)
	}
	code, stdout, _ = command("study", a, b, "--together")
	if code != 0 || !strings.Contains(stdout, "from 2 solos") ||
		!strings.Contains(stdout, "1  a.tab\n2  b.tab\n") {
		t.Errorf("together: exit code %d\n%s", code, stdout)
	}
	code, stdout, _ = command("study", dir)
	if code != 0 || !strings.Contains(stdout, "from 2 solos") {
		t.Errorf("a folder: exit code %d\n%s", code, stdout)
	}
	code, stdout, _ = command("study", a, b, "--format", "csv")
	if code != 0 || !strings.HasPrefix(stdout, "part,name,over,unit,a,b,p\n") {
		t.Errorf("exit code %d\n%s", code, stdout)
	}
}

// The files of a card are read back by those who read such files; the exercise has the move
// where in the form it was played.
func TestStudyCards(t *testing.T) {
	dir := t.TempDir()
	solo := put(t, dir, "solo.tab", []byte(madeSolo(t, 1, 4, player)))
	record := filepath.Join(dir, "solo.wav")
	if code, _, stderr := command("render", solo, "-o", record); code != 0 {
		t.Fatal(stderr)
	}
	cards := filepath.Join(dir, "cards")
	code, stdout, stderr := command("study", solo, "--recording", dir, "--cards", cards, "--to-harp", "A",
		"--position", "3")
	if code != 0 || !strings.Contains(stdout, "in "+cards) {
		t.Fatalf("exit code %d, %s", code, stderr)
	}
	folders, _ := filepath.Glob(filepath.Join(cards, "01-*"))
	if len(folders) != 1 {
		t.Fatalf("folders %v", folders)
	}
	open := func(name string) *os.File {
		f, err := os.Open(filepath.Join(folders[0], name))
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { f.Close() })
		return f
	}
	if m, err := midi.Read(open("move.mid")); err != nil || len(m.Parts) == 0 {
		t.Errorf("MIDI: %v", err)
	}
	if m, err := musicxml.Read(open("move.musicxml")); err != nil || len(m.Parts) == 0 {
		t.Errorf("MusicXML: %v", err)
	}
	for name, want := range map[string]string{"move.tab": "C", "other.tab": "A", "exercise.tab": "C"} {
		d, err := tab.Parse(open(name))
		if err != nil || d.Harp.Name != want || len(d.Events) < 4 {
			t.Errorf("%s: %v, %s harp, %d events", name, err, d.Harp.Name, len(d.Events))
		}
		if name == "other.tab" && d.HarpPosition() != 3 {
			t.Errorf("position %d", d.HarpPosition())
		}
		if name != "exercise.tab" {
			continue
		}
		for _, p := range d.Phrases {
			if place, _ := d.PlaceAt(p.Start); place.Beat != 1 || place.Bar != 3 && place.Bar != 7 {
				t.Errorf("the exercise has the move at %s", place)
			}
		}
	}
	for _, name := range []string{"recorded.wav", "slower.wav", "played.wav", "other.wav", "exercise.wav"} {
		if sound, err := isRecording(filepath.Join(folders[0], name)); err != nil || !sound {
			t.Errorf("%s: %v", name, err)
		}
	}
	code, stdout, stderr = command("study", solo, "--cards", cards)
	checkTrouble(t, code, stdout, stderr, exitFailed, "exists")
}

func TestStudyTrouble(t *testing.T) {
	for _, c := range []struct {
		args []string
		say  string
	}{
		{nil, "want a tab"},
		{[]string{"-", "--format", "pdf"}, "pdf"},
		{[]string{"-", "b"}, "standard input"},
		{[]string{"-", "--together"}, "--together"},
		{[]string{"-", "--to-harp", "D"}, "--cards"},
		{[]string{"a", "b", "--cards", "x"}, "--cards"},
		{[]string{"-", "--cards", "x", "--position", "13"}, "--position"},
		{[]string{"-", "--measure"}, "--recording"},
		{[]string{"-", "--harp", "C"}, "--harp"},
		{[]string{"-", "--form", "twelve-bar"}, "--bar-at"},
		{[]string{"-", "--form", "sonata"}, "twelve-bar"},
		{[]string{"-", "--recording", "a.wav", "--recording", "b.wav"}, "2 recordings for 1 tab"},
	} {
		code, stdout, stderr := fed(phrasedTab, append([]string{"study"}, c.args...)...)
		checkTrouble(t, code, stdout, stderr, exitUsage, c.say)
	}
	code, stdout, stderr := fed("not a tab\n", "study", "-")
	checkTrouble(t, code, stdout, stderr, exitFailed, "standard input")
	code, stdout, stderr = command("study", t.TempDir())
	checkTrouble(t, code, stdout, stderr, exitFailed, "no tabs")
	code, stdout, stderr = fed(phrasedTab, "study", "-", "--cards", "x")
	checkTrouble(t, code, stdout, stderr, exitFailed, "too few")
}

// The page loads nothing, shows a tab of hostile words as words, and in a browser plays the
// places of a line one after the other.
func TestStudyPage(t *testing.T) {
	dir := t.TempDir()
	name := `a<img src=x onerror=alert(1)>&.tab`
	solo := put(t, dir, name, []byte(madeSolo(t, 1, 4, player)))
	quiet := filepath.Join(dir, "quiet.html")
	code, stdout, stderr := command("study", solo, "--html", quiet)
	if code != 0 || !strings.Contains(stdout, "has no recording") {
		t.Fatalf("exit code %d, %s", code, stderr)
	}
	page := read(t, quiet)
	if strings.Contains(page, "<script") || strings.Contains(page, "<img") || strings.Contains(page, "http") &&
		!strings.Contains(page, "http-equiv") || !strings.Contains(page, "default-src &#39;none&#39;") {
		t.Error("the page without sound has scripts, pictures or addresses")
	}
	if code, _, stderr := command("render", solo, "-o", filepath.Join(dir, "solo.wav")); code != 0 {
		t.Fatal(stderr)
	}
	loud := filepath.Join(dir, "loud.html")
	if code, _, stderr := command("study", solo, "--recording", dir, "--html", loud); code != 0 {
		t.Fatal(stderr)
	}
	b := openBrowser(t)
	b.visit(loud)
	b.until(`document.querySelectorAll(".card").length > 0`)
	if eval[int](b, `document.querySelectorAll(".form .box").length`) != 12 {
		t.Error("not twelve bars")
	}
	b.click(".card .place")
	b.until(`document.getElementById("play").textContent === "Stop"`)
	b.until(`document.querySelector(".place.playing")`)
	b.do(`document.getElementById("play").click()`)
	b.until(`!document.querySelector(".playing")`)
	if wide := eval[int](b, `document.documentElement.scrollWidth - innerWidth`); wide > 0 {
		t.Errorf("the page is %d pixels too wide", wide)
	}
}
