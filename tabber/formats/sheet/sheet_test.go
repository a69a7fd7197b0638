package sheet

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"blowdraw/decode/programs"
	"blowdraw/tabber/tab"
)

const hostile = `</title><script>document.title="hit"</script> & "x" <img src=x onerror=alert(1)>.wav`

func document(t *testing.T) tab.Document {
	t.Helper()
	d, err := tab.Parse(strings.NewReader("blowdraw tab 1\nrecording: " + hostile +
		"\nharp: A\nsong: E\ntempo: 92 bpm\n" +
		"Phrase 1\n0:01 0.5 -2 scoop # <b>home</b> & *away*\n" +
		"0:01.5 0.25 -3' ? 60%, or -3 30%\n0:02 1 [-4 -5]\n" +
		"# listen <i>here</i>\nPhrase 2\n0:05 0.5 2\n0:06 0.5 {D#4+30} ?\n"))
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func written(t *testing.T, d tab.Document, opt Options) string {
	t.Helper()
	var b bytes.Buffer
	if err := WriteHTML(&b, d, opt); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func markdown(t *testing.T, d tab.Document, opt Options) string {
	t.Helper()
	var b bytes.Buffer
	if err := WriteMarkdown(&b, d, opt); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// A tab without bars has seconds, and says how to lay bars; a student is not told.
func TestWithoutBars(t *testing.T) {
	d := document(t)
	d.Recording = "porch.wav"
	want := "# porch\n\nA harp, second position, song in E, 92 beats a minute\n\n" +
		"The tab has no bars, so that its sheet has seconds instead of counts. To lay them: " +
		"--bar-at 0:01.000, or when else a bar begins.\n\n" +
		"**Phrase 1**  (0:01)\n\n    -2   -3'?  r  [-4 -5]_\n    /\n    0.0  0.5      1.0\n\n" +
		"*0:01.000, -2: \\<b\\>home\\</b\\> \\& \\*away\\**\n\n" +
		"**Phrase 2**  (0:05)\n\n    2    r  D#4+30?\n    0.0     1.0\n\n*listen \\<i\\>here\\</i\\>*\n\n" +
		"**To check by ear**\n\n- 0:01.500: -3', 60%, or -3 30%\n- 0:06.000: D\\#4\\+30, nearest -2'\n\n---\n\n" +
		"- `4`  blow hole 4\n- `-4`  draw hole 4\n- `'`  bend a semitone down; '' two\n" +
		"- `?`  not sure: check by ear\n- `Bb4`  this note, which the harp does not have\n" +
		"- `-2 _`  held on\n- `r`  rest\n- `0.5`  seconds from the start of the phrase\n" +
		"- `/`  scoop, begins low and slides up into the note\n"
	if got := markdown(t, d, Options{}); got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
	got := markdown(t, d, Options{Student: true})
	for _, teachers := range []string{"?", "%", "--bar-at", "+30", "by ear"} {
		if strings.Contains(got, teachers) {
			t.Errorf("a student reads %q in\n%s", teachers, got)
		}
	}
}

// bluesTab is two choruses at 60 beats a minute from second 10 on: what is played in bar 1
// comes back in bar 13, a note is held over a bar line, the rest is empty.
func bluesTab(t *testing.T) tab.Document {
	t.Helper()
	text := "blowdraw tab 1\nharp: A\nsong: E\ntempo: 60 bpm\nmeter: 4/4\nform: twelve-bar\n"
	for bar := range 24 {
		at := 10 + 4*float64(bar)
		text += fmt.Sprintf("bar %d %s %s\n", bar+1, tab.Clock(at), []string{"I", "iv7", "I V"}[bar%3])
		if bar%12 > 0 {
			continue
		}
		for _, e := range []struct {
			beat, length float64
			tab          string
		}{{0, 1, "-2"}, {1, .66, "-3'"}, {1.667, .34, "4"}, {2, .5, "-4"}, {2.5, .5, "-3' -11dB"},
			{3, 2, "-2 vibrato"}} {
			text += fmt.Sprintf("%s %g %s\n", tab.Clock(at+e.beat), e.length, e.tab)
		}
	}
	d, err := tab.Parse(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// Bars of both choruses, by hand: counts, a note held over a bar line, empty bars, chords
// with their names, what is played again.
func TestBars(t *testing.T) {
	got := markdown(t, bluesTab(t), Options{Notes: true})
	for _, want := range []string{`
**Chorus 1**

    | phrase 1, A              |                          |
    | 1  I E                   | 2  iv7 Am7               |
    | -2_ -3' 4   -4 -3'   -2_ | (-2)_ r                  |
    | E4  G4  A4  B4 G4    E4  |                          |
    |                -11dB ~   |                          |
    | 1   2   let 3  &     4   | (1)   (2) (3) (4)        |
`, `
    | 5  iv7 Am7      | 6  I E  V B     | 7  I E          | 8  iv7 Am7      |
    | r               | r               | r               | r               |
    | (1) (2) (3) (4) | (1) (2) (3) (4) | (1) (2) (3) (4) | (1) (2) (3) (4) |
`, `
**Chorus 2**
`, "| phrase 2, A again ", "| 13 (1)  I E "} {
		if !strings.Contains(got, want) {
			t.Errorf("no\n%s", want)
		}
	}
	if t.Failed() {
		t.Log(got)
	}
	if text := markdown(t, bluesTab(t), Options{Student: true}); strings.Contains(text, "dB") ||
		strings.Contains(text, "E4") {
		t.Errorf("a student reads dB, or names that nobody asked for:\n%s", text)
	}
}

// In a real browser nothing from outside is more than text, everything is there,
// and the printed page fits on one sheet.
func TestInBrowser(t *testing.T) {
	programs.Need(t, "chromium")
	dir := t.TempDir()
	path, pdf := filepath.Join(dir, "sheet.html"), filepath.Join(dir, "sheet.pdf")
	if err := os.WriteFile(path, []byte(written(t, document(t), Options{})), 0o600); err != nil {
		t.Fatal(err)
	}
	run := func(args ...string) []byte {
		t.Helper()
		args = append([]string{"--headless", "--no-sandbox", "--disable-gpu", "--user-data-dir=" + dir},
			args...)
		out, err := exec.Command("chromium", append(args, "file://"+path)...).Output()
		if err != nil {
			t.Fatalf("chromium: %v", err)
		}
		return out
	}
	seen := string(run("--dump-dom"))
	if strings.Contains(seen, "<script") || strings.Contains(seen, "<img") ||
		strings.Contains(seen, "<title>hit") {
		t.Errorf("something from outside came through:\n%s", seen)
	}
	for want, n := range map[string]int{`class="note doubt"`: 2, "<section>": 2, "<i>-5</i><i>-4</i>": 1,
		">scoop, ": 1, "&lt;b&gt;home&lt;/b&gt;": 1} {
		if got := strings.Count(seen, want); got != n {
			t.Errorf("%q %d times, want %d", want, got, n)
		}
	}
	run("--no-pdf-header-footer", "--print-to-pdf="+pdf)
	printed, err := os.ReadFile(pdf)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(regexp.MustCompile(`/Type\s*/Page\b`).FindAll(printed, -1)); n != 1 {
		t.Errorf("printed on %d pages, want 1", n)
	}
}
