//go:build long

package main

import (
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
)

// The page plays, whether its sound is inside or linked, in real time. How it sounds is
// measured in Chromium, since Firefox is silent in tests.
func TestPagePlays(t *testing.T) {
	inside, linked := pagesOf(t, pageTab)
	inBrowsers(t, func(t *testing.T, b *pageBrowser) {
		b.open(linked)
		testListening(t, b)
		b.open(inside)
		testListening(t, b)
		if b.ctx != nil {
			testSlowPitch(t, b)
		}
	})
}

func testListening(t *testing.T, b *pageBrowser) {
	b.press(" ")
	b.until(`document.querySelector(".lit b")?.textContent === "-4"`)
	b.press(" ")
	b.until(`document.querySelector("audio").paused`)

	b.set("#speed", "50")
	if !eval[bool](b, `document.querySelector("audio").playbackRate === 0.5 &&
		document.querySelector("audio").preservesPitch`) {
		t.Error("half speed is not half as fast at the same pitch")
	}
	b.set("#speed", "100")

	b.chooseNote(7)
	// the note was heard
	b.until(`document.querySelector("audio").paused && document.querySelector("audio").currentTime > 4.1`)
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

// A loop gets faster each time, from 60 % on and by 5 % up to 100 %, and beats are clicked.
func TestPageFasterAndClick(t *testing.T) {
	inside, _ := pagesOf(t, pageTab)
	b := openBrowser(t)
	b.open(inside)
	b.do(`window.tones = 0; const start = OscillatorNode.prototype.start;
		OscillatorNode.prototype.start = function (...at) { tones++; return start.apply(this, at); }`)
	b.press("c")
	b.chooseNote(9)
	b.until(`document.querySelector("audio").paused`)
	b.press("f")
	if told := b.told(); told != "From 60 %, each time 5 % faster, up to 100 %." {
		t.Errorf("told: %q", told)
	}
	b.press(" ")
	for _, want := range []string{"65", "70"} {
		b.do(`document.querySelector("audio").currentTime = 8.15`) // the loop ends 0.25 s after the phrase
		b.until(`document.querySelector("#speed").value === "` + want + `"`)
		b.until(`document.querySelector("audio").currentTime < 6`)
	}
	b.set("#speed", "100")
	b.do(`tones = 0`)
	b.until(`tones >= 2`)
	b.do(`document.querySelector("audio").currentTime = 8.15`)
	b.until(`document.querySelector("audio").currentTime < 6`)
	if speed := eval[string](b, `document.querySelector("#speed").value`); speed != "100" {
		t.Errorf("faster than the recording: %s %%", speed)
	}
	b.press(" ")
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
	b.click("#count")
	told := eval[string](b, `document.querySelector("#told").textContent`)
	if !strings.Contains(told, "Play, and count along") {
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
		if k, err := fmt.Sscan(lines[i], &at, &number); k != 2 || err != nil || number != n ||
			at < times[i][0]-0.05 || at > times[i][1]+0.05 {
			t.Errorf("beat %d: %q, counted between %.3f and %.3f", i+1, lines[i], times[i][0], times[i][1])
		}
	}
	code, stdout, stderr := command("export", text, "--as", "tab", "--taps", files[0])
	if first, _, _ := strings.Cut(lines[2], " "); code != 0 ||
		!strings.Contains(stdout, "\nbar 1  0:0"+first) || !strings.Contains(stdout, "\nbar 2  0:0") {
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
	t.Logf("opened in %.0f ms",
		eval[float64](b, `performance.getEntriesByType("navigation")[0].loadEventEnd`))
}
