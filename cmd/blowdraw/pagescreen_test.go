package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"blowdraw/cmd/blowdraw/demo"
	"blowdraw/tabber/tab"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// densePage writes the page of a tab of the demo that is as dense as tabs get: chords and
// runs of notes side by side, all in doubt, with bars and chords.
func densePage(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	text := "blowdraw tab 1\nrecording: demo.wav\nsection: 0:00 to 0:16.5\nharp: A\nsong: E\ntempo: 126 bpm\n" +
		"meter: 12/8\nbar 1 0:00.5 I IV\nbar 2 0:02.405 IV\nbar 3 0:04.31 V\n"
	tokens := []string{"[-4 -5 -6 -7]", "-4", "[-2 -5]", "-3''", "[5 6 7 8]", "-2", "[-1 -4]", "-4'", "10", "1"}
	for i := range 80 {
		if i%20 == 0 {
			text += "Phrase\n"
		}
		text += fmt.Sprintf("%s 0.14 %s ? 40%%, or 4 30%%\n", tab.Clock(0.6+0.159*float64(i)+0.5*float64(i/20)),
			tokens[i%len(tokens)])
	}
	html := filepath.Join(dir, "dense.html")
	wav := put(t, dir, "demo.wav", demo.Recording())
	mustRun(t, "page", wav, put(t, dir, "dense.tab", []byte(text)), "-o", html)
	return html
}

// outside lists what of some elements is not in the window.
const outside = `(selectors) => selectors.filter((s) => {
	const b = document.querySelector(s).getBoundingClientRect();
	return b.width < 10 || b.height < 10 || b.left < 0 || b.top < 0 || b.right > innerWidth + 1 ||
		b.bottom > innerHeight + 1;
})`

// On a large screen the picture, the harp and the whole phrase are on one screen, on a
// phone the harp and the notes about the chosen one, also after the last note was chosen.
func pageOnOneScreen(t *testing.T, b *pageBrowser, inside string) {
	for _, c := range []struct {
		html          string
		width, height int64
		shown         string
	}{
		{densePage(t), 1440, 900,
			`["#picture", "#canvas", ".harp", "#note h2", "#sheet .chosen", "#play", "#save"]`},
		{densePage(t), 390, 844, `[".harp", "#note h2", "#sheet .chosen", "#play", "#save"]`},
	} {
		b.size(c.width, c.height)
		b.open(c.html)
		for _, n := range []int{1, 30, 80} {
			b.chooseNote(n)
			b.until(`!document.querySelector("audio").seeking`)
			var got []string
			for range 40 { // it scrolls there
				if got = eval[[]string](b, fmt.Sprintf("(%s)(%s)", outside, c.shown)); len(got) == 0 {
					break
				}
				time.Sleep(50 * time.Millisecond)
			}
			if len(got) > 0 {
				t.Errorf("%d x %d, note %d: not on the screen: %v", c.width, c.height, n, got)
			}
		}
		if wide := eval[bool](b, `document.documentElement.scrollWidth > innerWidth`); wide {
			t.Errorf("%d x %d: the page is wider than its window", c.width, c.height)
		}
	}
	b.size(1440, 900)
	b.open(inside)
	if got := eval[[]string](b, "("+outside+`)(["#picture", ".harp", "#sheet ol"])`); len(got) > 0 {
		t.Errorf("not on the screen: %v", got)
	}
}

// labelBoxes draws the picture again and returns what is written into it and overprints,
// by the letters' own boxes.
const labelBoxes = `(async () => {
	const boxes = new Map();
	const write = CanvasRenderingContext2D.prototype.fillText;
	CanvasRenderingContext2D.prototype.fillText = function (text, x, y) {
		const m = this.measureText(text);
		boxes.set(text + " " + Math.round(x) + " " + Math.round(y), {
			text, name: this.textAlign === "right", left: x - m.actualBoundingBoxLeft,
			right: x + m.actualBoundingBoxRight,
			top: y - m.actualBoundingBoxAscent, bottom: y + m.actualBoundingBoxDescent,
		});
		return write.call(this, text, x, y);
	};
	dispatchEvent(new Event("resize"));
	await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
	CanvasRenderingContext2D.prototype.fillText = write;
	const all = [...boxes.values()];
	const out = ["labels: " + all.length];
	all.forEach((a, i) => all.slice(i + 1).forEach((b) => {
		if (a.name !== b.name) return; // what scrolls under the lanes' names is clipped
		const apart = a.left >= b.right || b.left >= a.right || a.top >= b.bottom || b.top >= a.bottom;
		if (!apart) out.push(a.text + " over " + b.text);
	}));
	return out;
})()`

// However dense the notes are, no label in the picture is written over another.
func pageLabels(t *testing.T, b *pageBrowser, _ string) {
	html := densePage(t)
	for _, size := range [][2]int64{{1440, 900}, {390, 844}, {1280, 640}} {
		b.size(size[0], size[1])
		b.open(html)
		for zoomed := range 3 {
			got := eval[[]string](b, labelBoxes)
			if len(got) > 1 {
				t.Errorf("%v, zoomed out %d times: %q", size, zoomed, got[1:])
			}
			var labels int
			if _, err := fmt.Sscanf(got[0], "labels: %d", &labels); err != nil || labels < 20 {
				t.Errorf("%v: only %q", size, got[0])
			}
			b.do(`document.querySelector("#wider").click()`)
		}
	}
}

func (b *pageBrowser) told() string {
	b.t.Helper()
	return eval[string](b, `document.querySelector("#told").textContent`)
}

// canonical is what the page saves, which must be as the document is usually written.
func (b *pageBrowser) canonical() string {
	b.t.Helper()
	saved := b.save()
	d, err := tab.Parse(strings.NewReader(saved))
	if err != nil {
		b.t.Errorf("the saved tab: %v", err)
	}
	var want bytes.Buffer
	if err := tab.WriteText(&want, d); err != nil || want.String() != saved {
		b.t.Errorf("%v: the saved tab is not as it is usually written:\n%s\nwant\n%s", err, saved, &want)
	}
	return saved
}

// N begins with the first doubt, even if that is the first note.
func pageFirstDoubt(t *testing.T, b *pageBrowser, _ string) {
	inside, _ := pagesOf(t, strings.Replace(pageTab, "scoop  # </script>", "scoop  ? 60%", 1))
	b.open(inside)
	for _, want := range []string{"Note 1 of 12", "Note 7 of 12"} {
		b.press("n")
		if got := b.told(); !strings.HasPrefix(got, want) {
			t.Errorf("N: %q, want %s", got, want)
		}
	}
}

// Holes are typed, arrows go on, and what is told follows.
func pageTyping(t *testing.T, b *pageBrowser, inside string) {
	b.open(inside)
	b.chooseNote(2)
	for _, c := range []struct{ keys, want, told string }{
		{"4", "4", "blow 4"}, {"-5", "-5", "draw 5"}, {"-3'", "-3'", "draw 3, bent 1 semitone"},
		{"'", "-3''", "draw 3, bent 2 semitones"}, {"10", "10", "blow 10"}, {"6o", "6o", "overblow 6"},
		{"-4+-5", "[-4 -5]", "draw 4 with draw 5"},
		{"-5'", "-5", "no -5'"}, {"0", "-5", "no hole"}, {"-4+5", "-4", "One breath"},
	} {
		for _, key := range c.keys {
			b.press(string(key))
		}
		if got, told := b.chosen(), b.told(); got != c.want || !strings.Contains(told, c.told) {
			t.Errorf("%s typed: %s, %q; want %s, %q", c.keys, got, told, c.want, c.told)
		}
		b.press(kb.Escape)
	}
	b.press(kb.ArrowRight)
	b.press("-")
	b.press("2")
	if got, told := b.chosen(), b.told(); got != "-2" || !strings.HasPrefix(told, "Note 3 of 12: draw 2") {
		t.Errorf("typed after an arrow: %s, %q", got, told)
	}
	b.canonical()
}

// An impossible time is refused and told; nothing changes.
func pageRefusesTimes(t *testing.T, b *pageBrowser, inside string) {
	b.open(inside)
	b.chooseNote(2)
	for _, c := range []struct{ field, value string }{{"#starts", "99"}, {"#starts", "-1"}, {"#starts", ""},
		{"#lasts", "0"}, {"#lasts", "50"}} {
		was := eval[string](b, fmt.Sprintf("document.querySelector(%q).value", c.field))
		b.set(c.field, c.value)
		why := eval[string](b, `document.querySelector("#refused").textContent`)
		now := eval[string](b, fmt.Sprintf("document.querySelector(%q).value", c.field))
		if !strings.Contains(why, "Not possible") || now != was {
			t.Errorf("%s %q: %q, and it is %q instead of %q", c.field, c.value, why, now, was)
		}
	}
	b.set("#starts", "1.1")
	if why := eval[string](b, `document.querySelector("#refused").textContent`); why != "" {
		t.Errorf("a possible time: %q", why)
	}
	if saved := b.save(); !strings.Contains(saved, "\n0:01.100 ") {
		t.Errorf("saved:\n%s", saved)
	}
}

// Marks are set and taken away, and explained where they are new.
func pageMarks(t *testing.T, b *pageBrowser, inside string) {
	b.open(inside)
	b.chooseNote(1)
	b.click(`#note [data-mark="scoop"]`)
	b.click(`#note [data-mark="slap"]`)
	b.chooseNote(3)
	b.click(`#note [data-mark="legato"]`)
	b.click(`#note [data-mark="fall"]`)
	b.click(`#note [data-mark="tongued"]`)
	if told := b.told(); !strings.Contains(told, "tongued fall") {
		t.Errorf("told: %q", told)
	}
	saved := b.canonical()
	for want, n := range map[string]int{"  slap  #": 1, "\nslap ": 1, " scoop": 0, "\nscoop ": 0,
		" tongued fall": 1, " legato": 0, "\nfall ": 1, "\nvibrato ": 1} {
		if got := strings.Count(saved, want); got != n {
			t.Errorf("%q %d times, want %d, in\n%s", want, got, n, saved)
		}
	}
}

// The grid is moved as a whole and at one bar line, by button and by dragging; moved back
// it leaves the tab as it was.
func pageGrid(t *testing.T, b *pageBrowser, inside string) {
	b.size(1440, 900)
	b.open(inside)
	b.click("#later")
	b.do(`for (let i = 0; i < 8; i++) document.querySelector("#later").click()`)
	saved := b.canonical()
	for _, want := range []string{"\nbar 1  0:00.682", "\nbar 2  0:03.538", "\nbar 3  0:06.394"} {
		if !strings.Contains(saved, want) {
			t.Errorf("no %q in\n%s", want, saved)
		}
	}
	b.do(`for (let i = 0; i < 9; i++) document.querySelector("#earlier").click()`)
	if got := b.save(); got != pageTab {
		t.Errorf("moved there and back:\n%s", got)
	}
	b.dragBar(3448, -92) // 708 ms, so that bar 1 lies before the recording
	if saved := b.canonical(); strings.Contains(saved, "\nbar 1 ") ||
		!strings.Contains(saved, "\nbar 2  0:02.7") || !strings.Contains(saved, "  1|2 ") {
		t.Errorf("moved before the recording:\n%s", saved)
	}
	b.click("#undo")
	b.do(`document.querySelector("#one").click()`)
	b.chooseNote(8)
	b.click("#later")
	if saved := b.canonical(); !strings.Contains(saved, "\nbar 1  0:00.592") ||
		!strings.Contains(saved, "\nbar 2  0:03.458") || !strings.Contains(saved, "\nbar 3  0:06.304") {
		t.Errorf("one bar line moved:\n%s", saved)
	}
	b.click("#earlier")
	b.dragBar(3448, 39) // 300 ms
	d, err := tab.Parse(strings.NewReader(b.canonical()))
	if err != nil || fmt.Sprint(d.Bars) != "[{1 0.592 I 0} {2 3.748 IV 0} {3 6.304 I 0}]" {
		t.Errorf("one bar line dragged: %v, %v", d.Bars, err)
	}
	b.do(`document.querySelector("#one").click()`)
	b.dragBar(3748, -39)
	if told := b.told(); told != "All bars 300 ms earlier." {
		t.Errorf("told: %q", told)
	}
	d, err = tab.Parse(strings.NewReader(b.canonical()))
	if err != nil || fmt.Sprint(d.Bars) != "[{1 0.292 I 0} {2 3.448 IV 0} {3 6.004 I 0}]" {
		t.Errorf("all dragged: %v, %v", d.Bars, err)
	}
}

// barless is the tab of the demo without bars, as text.
func barless(t *testing.T, bpm float64) string {
	t.Helper()
	d, err := tab.Parse(strings.NewReader(pageTab))
	if err != nil {
		t.Fatal(err)
	}
	d.Bars, d.Meter, d.BPM = nil, "", bpm
	var text bytes.Buffer
	if err := tab.WriteText(&text, d); err != nil {
		t.Fatal(err)
	}
	return text.String()
}

// A tab without bars gets its first ones as export lays them, to the byte, and moves them
// on; undone it is as it was.
func pageFirstBars(t *testing.T, b *pageBrowser, _ string) {
	for _, c := range []struct {
		has, bpm float64 // of the tab; typed, 0 for as it is
		meter    string
		note     int
		at       string
	}{
		{0, 132.6, "12/8", 9, "0:05.108"}, {97.3, 0, "3/4", 4, "0:01.788"},
	} {
		text := barless(t, c.has)
		html, _ := pagesOf(t, text)
		b.open(html)
		b.chooseNote(c.note)
		if c.bpm > 0 {
			b.set("#bpm", "12")
			b.click("#lay")
			if told := b.told(); !strings.Contains(told, "Not possible") {
				t.Errorf("12 beats a minute: %q", told)
			}
			b.set("#bpm", fmt.Sprint(c.bpm))
		}
		b.set("#meter", c.meter)
		b.click("#lay")
		if told := b.told(); !strings.HasPrefix(told, "Bar 1 begins at "+c.at) {
			t.Errorf("told: %q", told)
		}
		_, want, _ := command("export", put(t, t.TempDir(), "demo.tab", []byte(text)), "--as", "tab",
			"--bar-at", c.at, "--bpm", fmt.Sprint(c.has+c.bpm), "--meter", c.meter)
		if saved := b.canonical(); saved != want || !strings.Contains(want, "\nbar 1 ") {
			t.Errorf("saved with bars:\n%s\nexport writes\n%s", saved, want)
		}
		if eval[bool](b, `document.querySelector("#click").hidden || !document.querySelector("#laying").hidden`) {
			t.Error("there are bars, but no click, or first bars can be laid again")
		}
		b.click("#later")
		b.canonical()
		b.click("#undo")
		b.click("#undo")
		if saved := b.save(); saved != text {
			t.Errorf("undone:\n%s", saved)
		}
	}
}

// Where phrases meet no space is told, where they part again it is, also with a bar line in
// it; a phrase without notes goes.
func pageSpaces(t *testing.T, b *pageBrowser, inside string) {
	b.open(inside)
	want := func(spaces, phrases int) {
		t.Helper()
		saved := b.canonical()
		if got := strings.Count(saved, "\nspace "); got != spaces {
			t.Errorf("%d spaces, want %d, in\n%s", got, spaces, saved)
		}
		if got := strings.Count(saved, "\nPhrase "); got != phrases {
			t.Errorf("%d phrases, want %d, in\n%s", got, phrases, saved)
		}
	}
	for range 2 { // the second time bar 2 begins in the space
		b.chooseNote(7)
		b.set("#lasts", "2.136")
		want(0, 2)
		b.set("#lasts", "1.474")
		want(1, 2)
		b.dragBar(3448, 130)
	}
	b.chooseNote(8)
	for range 4 {
		b.click("#remove")
		want(1, 2)
	}
	b.click("#remove")
	want(0, 1)
}

// dragBar drags the number of the bar that begins at a time in ms by so many pixels, of
// 0.13 a millisecond.
func (b *pageBrowser) dragBar(at, by float64) {
	b.t.Helper()
	b.do(fmt.Sprintf(`{
		document.querySelector("#picture").scrollLeft = 0;
		const canvas = document.querySelector("#canvas");
		const box = canvas.getBoundingClientRect();
		const x = box.left + 62 + %g * 0.13 + 8;
		const send = (kind, x) => canvas.dispatchEvent(new PointerEvent(kind,
			{ clientX: x, clientY: box.top + 12, bubbles: true, pointerId: 1, isPrimary: true, button: 0 }));
		canvas.setPointerCapture = () => {};
		send("pointerdown", x);
		send("pointermove", x + %g / 2);
		send("pointermove", x + %g);
		send("pointerup", x + %g);
	}`, at, by, by, by))
}

// With the reader's own colours chosen buttons and notes still differ from the others.
func TestPageForcedColours(t *testing.T) {
	inside, _ := pagesOf(t, pageTab)
	b := openBrowser(t)
	_, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "forced-colors", Value: "active"}},
	})
	b.check(err)
	b.open(inside)
	b.chooseNote(1)
	colour := func(selector string) string {
		return eval[string](b,
			fmt.Sprintf("getComputedStyle(document.querySelector(%q)).backgroundColor", selector))
	}
	if on, off := colour(`.harp [aria-pressed="true"]`), colour(`.harp [aria-pressed="false"]`); on == off {
		t.Errorf("a chosen hole looks like another: %s", on)
	}
}

// checker is axe-core, an accessibility checker; the test is left out without it, unless
// CI is set.
func checker(t *testing.T) string {
	t.Helper()
	for _, dir := range filepath.SplitList(os.Getenv("NODE_PATH")) {
		for _, modules := range []string{"", "node_modules"} {
			script, err := os.ReadFile(filepath.Join(dir, modules, "axe-core", "axe.min.js"))
			if err == nil {
				return string(script)
			}
		}
	}
	if os.Getenv("CI") != "" {
		t.Fatal("npm's axe-core is not in NODE_PATH")
	}
	t.Skip("npm's axe-core is not in NODE_PATH")
	return ""
}

// The checker finds no fault with the page, the sheet and the lesson: roles, names,
// contrast and order, by the rules of WCAG 2.2 (W3C Recommendation, 2023), levels A and AA.
// The names of notes and holes say in words what they show as signs.
func TestAccessible(t *testing.T) {
	script := checker(t)
	dir := t.TempDir()
	wav, text := put(t, dir, "demo.wav", demo.Recording()), put(t, dir, "demo.tab", []byte(pageTab))
	out := filepath.Join(dir, "lesson")
	mustRun(t, "lesson", text, "--recording", wav, "--dir", out, "--teacher", "--notes")
	b := openBrowser(t)
	for _, width := range []int64{1440, 390} {
		for _, scheme := range []string{"light", "dark"} {
			_, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
				Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}},
			})
			b.check(err)
			b.size(width, 860)
			for _, name := range []string{"page", "sheet", "teacher", "index"} {
				b.visit(filepath.Join(out, name+".html"))
				b.do(script)
				faults := eval[[]string](b, `axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a",
					"wcag21aa", "wcag22aa", "best-practice"] }).then((r) => r.violations.flatMap((v) => v.nodes.filter((n) =>
					v.id !== "label-content-name-mismatch" ||
					!document.querySelector(n.target[0]).closest("#sheet, .harp")).map((n) =>
					v.id + ": " + v.help + ": " + n.html.slice(0, 120))))`)
				for _, f := range faults {
					t.Errorf("%s, %d px, %s: %s", name, width, scheme, f)
				}
			}
		}
	}
}
