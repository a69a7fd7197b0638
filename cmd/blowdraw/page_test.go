package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"blowdraw/cmd/blowdraw/demo"
	"blowdraw/tabber/tab"

	"github.com/chromedp/chromedp/kb"
)

// pageTab is a tab of the demo with bars, doubts and comments, some of them hostile.
const pageTab = `blowdraw tab 1

recording: demo.wav
section:   0:00.000 to 0:16.500
harp:      A
layout:    richter
song:      E, second position
tuning:    8.4 cents sharp
tempo:     84.1 bpm
meter:     12/8
teacher:   </script><script>document.title = "hit"</script>

# <img src=x onerror="document.title = 'hit'">

    time  length  bar      tab      degree  marks

bar 1  0:00.592  I

Phrase 1  0:00.592 to 0:04.214  3.6 s, 5.1 beats
0:00.592   0.476  1|1      -2       1       scoop  # </script>
0:01.068   0.244  1|1+2/3  -3'      b3
0:01.312   0.476  1|2      -4       5
0:01.788   0.244  1|2+2/3  -4'      b5
0:02.032   0.464  1|3      -4       5
0:02.496   0.244  1|3+2/3  -3'      b3
0:02.740   1.474  1|4      -2       1       vibrato  ? 71%, or 3 20%
bar 2  0:03.448  IV

space 0.7 s, 0.9 beats

Phrase 2  0:04.876 to 0:07.976  3.1 s, 4.3 beats
# listen here
0:04.876   0.232  2|3      4        4
0:05.108   0.732  2|3+1/3  [-4 -5]  5 b7             ? 60%, or -4 25%, rest 10%
0:05.840   0.464  2|4+1/3  -4       5
bar 3  0:06.304  I
0:06.304   0.244  3|1      {E5+20}  1                ? 50%, nearest 6
0:06.548   1.428  3|1+1/3  2        6

Marks
scoop         begins low and slides up into the note
vibrato       throat vibrato: pitch and loudness swing together
`

func TestPageTrouble(t *testing.T) {
	dir := t.TempDir()
	wav, text := put(t, dir, "a.wav", demo.Recording()), put(t, dir, "a.tab", []byte(pageTab))
	bare := put(t, dir, "bare.tab", []byte("blowdraw tab 1\nharp: A\nsong: E\n"))
	html := filepath.Join(dir, "a.html")
	for _, c := range []struct {
		args []string
		code int
		say  string
	}{
		{[]string{wav, text}, 2, "-o solo.html"},
		{[]string{"-o", html}, 2, "recording"},
		{[]string{wav, text, "-o", html, "--harp", "A"}, 2, "--harp is for a recording without a tab"},
		{[]string{wav, text, "-o", html, "--audio", "outside"}, 2, "inside or link"},
		{[]string{wav, text, "-o", wav, "--force"}, 2, "is the recording"},
		{[]string{wav, text, "-o", text, "--force"}, 2, "is the tab"},
		{[]string{wav, text, "-o", bare}, 1, "exists"},
		{[]string{wav, bare, "-o", html}, 1, "nothing to show"},
		{[]string{wav, filepath.Join(dir, "none.tab"), "-o", html}, 1, "none.tab"},
		{[]string{filepath.Join(dir, "none.wav"), text, "-o", html}, 1, "none.wav"},
	} {
		code, stdout, stderr := command(append([]string{"page"}, c.args...)...)
		checkTrouble(t, code, stdout, stderr, c.code, c.say)
	}
	if _, err := os.Stat(html); err == nil {
		t.Error("a page was written all the same")
	}
}

// pagesOf writes the pages of a tab of the demo, with its sound inside and linked.
func pagesOf(t *testing.T, text string) (inside, linked string) {
	t.Helper()
	dir := t.TempDir()
	wav, in := put(t, dir, "a & b.wav", demo.Recording()), put(t, dir, "demo.tab", []byte(text))
	inside, linked = filepath.Join(dir, "inside.html"), filepath.Join(dir, "linked.html")
	for html, audio := range map[string]string{inside: "inside", linked: "link"} {
		if code, _, stderr := command("page", wav, in, "--audio", audio, "-o", html); code != 0 ||
			stderr != "" {
			t.Fatalf("exit code %d: %s", code, stderr)
		}
	}
	return inside, linked
}

// pageCheck checks what pages do in a browser; inside is the page of pageTab.
type pageCheck func(t *testing.T, b *pageBrowser, inside string)

// pageChecks are what a page does in every browser.
var pageChecks = []struct {
	name  string
	check pageCheck
}{
	{"steps and corrects", pageCorrects}, {"one screen", pageOnOneScreen}, {"labels", pageLabels},
	{"first doubt", pageFirstDoubt}, {"typing", pageTyping}, {"times", pageRefusesTimes}, {"marks", pageMarks},
	{"grid", pageGrid}, {"first bars", pageFirstBars}, {"spaces", pageSpaces},
}

// TestPage drives pages in Chromium and Firefox, from their files. Each browser starts once;
// what a page writes to the console or fetches fails the check during which it did.
func TestPage(t *testing.T) {
	inside, _ := pagesOf(t, pageTab)
	inBrowsers(t, func(t *testing.T, b *pageBrowser) {
		for _, c := range pageChecks {
			t.Run(c.name, func(t *testing.T) { b.within(t, c.check, inside) })
		}
	})
}

// within runs a check in a browser of usual size.
func (b *pageBrowser) within(t *testing.T, check pageCheck, inside string) {
	whole := b.t
	b.t = t
	defer func() {
		b.complain()
		b.t = whole
	}()
	b.size(1280, 900)
	check(t, b, inside)
}

// A tab is as it was if nothing is changed; notes are stepped through, heard and corrected.
func pageCorrects(t *testing.T, b *pageBrowser, inside string) {
	b.open(inside)
	if got := b.save(); got != pageTab {
		t.Errorf("nothing was changed, but the tab that was saved is\n%s", got)
	}
	if title := eval[string](b, `document.title`); title != "demo" {
		t.Errorf("title %q", title)
	}
	testStepping(t, b)
	testCorrecting(t, b)
}

func testStepping(t *testing.T, b *pageBrowser) {
	b.chooseNote(1)
	b.press(kb.ArrowRight)
	if got := b.chosen(); got != "-3'" {
		t.Errorf("right of the first note is %q", got)
	}
	b.press(kb.ArrowLeft)
	if got := b.chosen(); got != "-2" {
		t.Errorf("and left of that %q", got)
	}
	for _, want := range []string{"-2?", "[-4 -5]?", "E5+20?", "-2?"} {
		b.press("n")
		if got := b.chosen(); got != want {
			t.Errorf("next doubt is %q, want %q", got, want)
		}
	}
	label := eval[string](b, `document.querySelector("#sheet .chosen").getAttribute("aria-label")`)
	if label != "draw 2, degree 1, vibrato, in doubt" {
		t.Errorf("read out as %q", label)
	}
}

func testCorrecting(t *testing.T, b *pageBrowser) {
	b.chooseNote(7)
	b.press("y")
	b.chooseNote(9)
	b.click(`#note .choices button:nth-child(2)`) // or -4
	b.chooseNote(11)
	b.click(`#note [data-tab="6"]`)
	b.click(`#together`)
	b.click(`#note [data-tab="3"]`)
	b.click(`#together`)
	b.click(`#sheet h2:nth-of-type(2) .check`)
	b.chooseNote(2)
	b.set("#starts", "1.1")
	b.set("#comment", "late <b>here</b>")
	b.chooseNote(3)
	b.click("#split")
	b.chooseNote(8) // was 7, the last of its phrase
	b.set("#lasts", "1.2")
	b.chooseNote(1)
	b.click("#join")
	b.press(kb.ArrowRight)
	b.click("#remove")
	b.check(b.engine.press("z", true))

	saved := b.save()
	d, err := tab.Parse(strings.NewReader(saved))
	if err != nil {
		t.Errorf("the saved tab: %v", err)
	}
	var canonical bytes.Buffer
	if err := tab.WriteText(&canonical, d); err != nil || canonical.String() != saved {
		t.Errorf("%v: the saved tab is not as it is usually written:\n%s\nwant\n%s", err, saved, &canonical)
	}
	if got, want := eventLines(d), correctedLines; got != want {
		t.Errorf("events are\n%s\nwant\n%s", got, want)
	}
	spans := ""
	for _, p := range d.Phrases {
		spans += fmt.Sprintf("{%.3f %.3f %v}", p.Start, p.End, p.Checked)
	}
	if got, want := spans, "{0.592 3.940 false}{4.876 7.976 true}"; got != want {
		t.Errorf("phrases %s, want %s", got, want)
	}
	for _, kept := range []string{"\n# listen here\n", "\n# <img src=x", "\nteacher:   </script>"} {
		if !strings.Contains(saved, kept) {
			t.Errorf("%q was lost", kept)
		}
	}
	file := put(t, t.TempDir(), "saved.tab", []byte(saved))
	if code, stdout, stderr := command("check", file); code != 0 {
		t.Errorf("check: exit code %d\n%s%s", code, stdout, stderr)
	}
	b.reload()
	if again := b.save(); again != saved {
		t.Errorf("after a reload\n%s", again)
	}
}

// correctedLines is what testCorrecting leaves.
const correctedLines = `0.592 0.720 -2 scoop # </script>; late <b>here</b>
1.312 0.238 -4
1.550 0.238 -4
1.788 0.244 -4'
2.032 0.464 -4
2.496 0.244 -3'
2.740 1.200 -2 vibrato checked
4.876 0.232 4
5.108 0.732 -4 checked
5.840 0.464 -4
6.304 0.244 [3 6] checked
6.548 1.428 2
`

func eventLines(d tab.Document) string {
	var b strings.Builder
	for _, e := range d.Events {
		fmt.Fprintf(&b, "%.3f %.3f %s", e.Start, e.End-e.Start, d.EventToken(e))
		for _, m := range e.Marks {
			fmt.Fprintf(&b, " %s", m)
		}
		if e.Doubtful() {
			b.WriteString(" " + d.Doubt(e))
		}
		if e.Checked {
			b.WriteString(" checked")
		}
		if e.Comment != "" {
			b.WriteString(" # " + e.Comment)
		}
		b.WriteString("\n")
	}
	return b.String()
}
