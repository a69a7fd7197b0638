package main

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"blowdraw/cmd/blowdraw/demo"
	"blowdraw/decode"
	"blowdraw/tabber/tab"

	"github.com/chromedp/chromedp"
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

// TestPage drives the page of a tab in Chromium, from its file.
func TestPage(t *testing.T) {
	dir := t.TempDir()
	wav, text := put(t, dir, "a & b.wav", demo.Recording()), put(t, dir, "demo.tab", []byte(pageTab))
	inside, linked := filepath.Join(dir, "inside.html"), filepath.Join(dir, "linked.html")
	for html, audio := range map[string]string{inside: "inside", linked: "link"} {
		if code, _, stderr := command("page", wav, text, "--audio", audio, "-o", html); code != 0 || stderr != "" {
			t.Fatalf("exit code %d: %s", code, stderr)
		}
	}
	b := openBrowser(t)
	b.open(linked)
	testListening(t, b)
	b.open(inside)
	if got := b.save(); got != pageTab {
		t.Errorf("nothing was changed, but the tab that was saved is\n%s", got)
	}
	if title := eval[string](b, `document.title`); title != "demo" {
		t.Errorf("title %q", title)
	}
	for _, part := range []func(*testing.T, *pageBrowser){testListening, testSlowPitch, testStepping, testCorrecting} {
		part(t, b)
	}
}

func testListening(t *testing.T, b *pageBrowser) {
	b.press(" ")
	b.until(`document.querySelector(".lit b")?.textContent === "-4"`)
	b.press(" ")
	b.until(`document.querySelector("audio").paused`)

	b.set("#speed", "50")
	if !eval[bool](b, `document.querySelector("audio").playbackRate === 0.5 && document.querySelector("audio").preservesPitch`) {
		t.Error("half speed is not half as fast at the same pitch")
	}
	b.set("#speed", "100")

	b.chooseNote(7)
	b.until(`document.querySelector("audio").paused && document.querySelector("audio").currentTime > 4.1`) // the note was heard
	b.press("l")
	b.press(" ")
	b.until(`document.querySelector("audio").currentTime < 1`) // back at the start of the phrase
	if told := eval[string](b, `document.querySelector("#told").textContent`); told != "Loop: phrase 1" {
		t.Errorf("says %q", told)
	}
	b.press("l")
	b.press(" ")

	b.do(`window.tones = 0; const start = OscillatorNode.prototype.start;
		OscillatorNode.prototype.start = function (...at) { tones++; return start.apply(this, at); }`)
	b.set("#hear", "both")
	b.press(" ")
	b.until(`tones >= 2`)
	b.set("#hear", "tab")
	b.until(`document.querySelector("audio").muted`)
	b.press(" ")
	b.set("#hear", "record")
}

// testSlowPitch wants the seventh note, E4 and 8 cents (A4 = 440 Hz), at its pitch at
// half speed too.
func testSlowPitch(t *testing.T, b *pageBrowser) {
	b.reload() // before the sound is routed
	b.do(`const connect = AudioNode.prototype.connect;
		AudioNode.prototype.connect = function (to, ...rest) {
			if (this instanceof MediaElementAudioSourceNode) {
				window.ear = new AnalyserNode(this.context, { fftSize: 8192 });
				connect.call(this, ear);
			}
			return connect.call(this, to, ...rest);
		};
		window.strongest = () => {
			const bins = new Float32Array(ear.frequencyBinCount);
			ear.getFloatFrequencyData(bins);
			const step = ear.context.sampleRate / ear.fftSize;
			const low = bins.subarray(0, Math.round(500 / step));
			return Math.max(...low) < -60 ? 0 : low.indexOf(Math.max(...low)) * step;
		};`)
	b.set("#speed", "50")
	b.set("#hear", "both")
	b.press("n")
	b.until(`document.querySelector("audio").currentTime > 3.5 && strongest() > 0`)
	if hz := eval[float64](b, `strongest()`); math.Abs(hz-331.2) > 8 {
		t.Errorf("at half speed the note sounds at %.0f Hz, want 331", hz)
	}
	b.set("#speed", "100")
	b.set("#hear", "record")
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
	b.press("z", chromedp.KeyModifiers(chromedp.ModifierCtrl))

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
	if got, want := fmt.Sprintf("%.3f", d.Phrases), "[{0.592 3.940} {4.876 7.976}]"; got != want {
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
2.740 1.200 -2 vibrato
4.876 0.232 4
5.108 0.732 -4
5.840 0.464 -4
6.304 0.244 [3 6]
6.548 1.428 2
`

func eventLines(d tab.Document) string {
	var b strings.Builder
	for _, e := range d.Events {
		fmt.Fprintf(&b, "%.3f %.3f %s", e.Start, e.End-e.Start, played(d, e))
		for _, m := range e.Marks {
			fmt.Fprintf(&b, " %s", m)
		}
		if e.Doubtful() {
			b.WriteString(" " + e.Doubt())
		}
		if e.Comment != "" {
			b.WriteString(" # " + e.Comment)
		}
		b.WriteString("\n")
	}
	return b.String()
}

// Beats counted along while the page plays, by keys or by the button; counted again from a
// point on they take the place of those after it. What is saved lays bars over the tab.
func TestPageCounting(t *testing.T) {
	dir := t.TempDir()
	wav, text := put(t, dir, "demo.wav", demo.Recording()), put(t, dir, "demo.tab", []byte(pageTab))
	html := filepath.Join(dir, "demo.html")
	if code, _, stderr := command("page", wav, text, "-o", html); code != 0 {
		t.Fatalf("exit code %d: %s", code, stderr)
	}
	b := openBrowser(t)
	b.open(html)
	b.press("1")
	if told := eval[string](b, `document.querySelector("#told").textContent`); !strings.Contains(told, "Play, and count along") {
		t.Errorf("counted without sound: %q", told)
	}
	now := func() float64 { return eval[float64](b, `document.querySelector("audio").currentTime`) }
	var times [][2]float64 // before and after a beat was counted
	count := func(n int) {
		b.until(fmt.Sprintf(`document.querySelector("audio").currentTime > %g`, float64(len(times)+1)*0.7))
		before := now()
		if n == 0 {
			b.do(`document.querySelector("#count").click()`)
		} else {
			b.press(fmt.Sprint(n))
		}
		times = append(times, [2]float64{before, now()})
	}
	b.press(" ")
	for _, n := range []int{3, 4, 1, 2, 2, 2} {
		count(n)
	}
	b.do(`document.querySelector("audio").currentTime = 2.6`)
	times = times[:3]
	for _, n := range []int{2, 0, 0, 0} {
		count(n)
	}
	b.press(" ")
	b.do(`document.querySelector("#beats").click()`)
	var files []string
	for range 200 {
		if files, _ = filepath.Glob(filepath.Join(b.downloads, "*.beats.txt")); len(files) > 0 {
			break
		}
		time.Sleep(25 * time.Millisecond)
	}
	if len(files) != 1 {
		t.Fatalf("downloads: %v", files)
	}
	file, err := os.ReadFile(files[0])
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(file)), "\n")[1:]
	for i, n := range []int{3, 4, 1, 2, 3, 4, 1} {
		var at float64
		var number int
		if i >= len(lines) {
			t.Fatalf("%d beats in\n%s", len(lines), file)
		}
		if k, err := fmt.Sscan(lines[i], &at, &number); k != 2 || err != nil || number != n || at < times[i][0]-0.05 || at > times[i][1]+0.05 {
			t.Errorf("beat %d: %q, counted between %.3f and %.3f", i+1, lines[i], times[i][0], times[i][1])
		}
	}
	code, stdout, stderr := command("export", text, "--as", "tab", "--taps", files[0])
	if first, _, _ := strings.Cut(lines[2], " "); code != 0 || !strings.Contains(stdout, "\nbar 1  0:0"+first) || !strings.Contains(stdout, "\nbar 2  0:0") {
		t.Errorf("exit code %d, %s: no bar 1 at %s in\n%s", code, stderr, first, stdout)
	}
}

// mostPage is how much a page of a minute may take beside its sound, in bytes.
const mostPage = 300 << 10

// TestPageOfAMinute transcribes a minute and wants its page small.
func TestPageOfAMinute(t *testing.T) {
	dir := t.TempDir()
	clip, _, _, err := decode.Load(put(t, dir, "demo.wav", demo.Recording()), decode.Options{})
	if err != nil {
		t.Fatal(err)
	}
	var minute []float64
	for len(minute) < 60*clip.Rate {
		minute = append(minute, clip.Samples...)
	}
	html := filepath.Join(dir, "minute.html")
	wav := put(t, dir, "minute.wav", wavOf(t, minute[:60*clip.Rate]))
	if code, _, stderr := command("page", wav, "--harp", "A", "-o", html); code != 0 {
		t.Fatalf("exit code %d: %s", code, stderr)
	}
	page, err := os.ReadFile(html)
	if err != nil {
		t.Fatal(err)
	}
	sound := len(regexp.MustCompile(`id="sound">"[^"]*"`).Find(page))
	if rest := len(page) - sound; sound < 1<<20 || rest > mostPage {
		t.Errorf("the page takes %d bytes beside %d of sound, more than %d", rest, sound, mostPage)
	} else {
		t.Logf("%d KiB beside %d KiB of sound", rest>>10, sound>>10)
	}
	b := openBrowser(t)
	b.open(html)
	t.Logf("opened in %.0f ms", eval[float64](b, `performance.getEntriesByType("navigation")[0].loadEventEnd`))
}
