package sheet

import (
	"bytes"
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

func html(t *testing.T, d tab.Document) string {
	t.Helper()
	var b bytes.Buffer
	if err := WriteHTML(&b, d); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestMarkdown(t *testing.T) {
	d := document(t)
	d.Recording = "porch.wav"
	var b bytes.Buffer
	if err := WriteMarkdown(&b, d); err != nil {
		t.Fatal(err)
	}
	want := "# porch\n\nA harp, second position, song in E, 92 beats a minute\n\n" +
		"**1**  (0:01)\n\n    -2     -3'?  [-4 -5]\n    scoop\n\n" +
		"*-2: \\<b\\>home\\</b\\> \\& \\*away\\**\n\n" +
		"**2**  (0:05)\n\n    2  D#4+30?\n\n*listen \\<i\\>here\\</i\\>*\n\n---\n\n" +
		"- `4`  blow hole 4\n- `-4`  draw hole 4\n- `'`  bend a semitone down; '' two\n- `[ ]`  together\n" +
		"- `?`  not sure: check by ear\n- `Bb4`  this note, which the harp does not have\n" +
		"- `scoop`  begins low and slides up into the note\n"
	if b.String() != want {
		t.Errorf("%s\nwant\n%s", b.String(), want)
	}
}

func TestMarkdownLines(t *testing.T) {
	d := document(t)
	d.Phrases, d.Remarks = d.Phrases[:1], nil
	e := d.Events[2]
	for range 30 {
		e.Start, e.End = e.Start+0.1, e.End+0.1
		d.Events = append(d.Events[:len(d.Events):len(d.Events)], e)
	}
	d.Events = append(d.Events[:3:3], d.Events[5:]...)
	var b bytes.Buffer
	if err := WriteMarkdown(&b, d); err != nil {
		t.Fatal(err)
	}
	if got := strings.Count(b.String(), "[-4 -5]"); got != 31 {
		t.Errorf("%d events, want 31", got)
	}
	for _, line := range strings.Split(b.String(), "\n") {
		if strings.HasPrefix(line, "    ") && len(line) > 4+lineWidth {
			t.Errorf("a line of %d characters", len(line))
		}
	}
}

// In a real browser nothing from outside is more than text, everything is there,
// and the printed page fits on one sheet.
func TestInBrowser(t *testing.T) {
	programs.Need(t, "chromium")
	dir := t.TempDir()
	path, pdf := filepath.Join(dir, "sheet.html"), filepath.Join(dir, "sheet.pdf")
	if err := os.WriteFile(path, []byte(html(t, document(t))), 0o600); err != nil {
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
	for want, n := range map[string]int{"<li ": 5, `class="doubt"`: 2, "<section>": 2, "[-4 -5]": 1,
		">scoop<": 2, "&lt;b&gt;home&lt;/b&gt;": 1} {
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
