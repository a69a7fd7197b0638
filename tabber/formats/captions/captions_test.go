package captions

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"blowdraw/decode/programs"
	"blowdraw/tabber/harp/harptest"
	"blowdraw/tabber/tab"
)

func parse(t *testing.T, body string) tab.Document {
	t.Helper()
	d, err := tab.Parse(strings.NewReader("blowdraw tab 1\nharp: A\nsong: E\n" + body))
	if err != nil {
		t.Fatal(err)
	}
	return d
}

const twoPhrases = "Phrase 1\n1:01 0.5 -2\n1:01.5 0.25 -3' ? 60%, or -3 30%\n1:02 1 [-4 -5]\nPhrase 2\n" +
	"1:05 0.5 2\n1:06 0.5 {Eb4+30} ?\n"

func vtt(t *testing.T, d tab.Document, opt Options) string {
	t.Helper()
	var b bytes.Buffer
	if err := WriteVTT(&b, d, opt); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestVTT(t *testing.T) {
	want := `WEBVTT

1
00:01:01.000 --> 00:01:03.500
-2 -3'? [-4 -5]

2
00:01:05.000 --> 00:01:07.000
2 D#4+30?

`
	if got := vtt(t, parse(t, twoPhrases), Options{}); got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
}

func TestSRTByEvent(t *testing.T) {
	var b bytes.Buffer
	if err := WriteSRT(&b, parse(t, twoPhrases), Options{Offset: -61.75, ByEvent: true}); err != nil {
		t.Fatal(err)
	}
	want := `1
00:00:00,000 --> 00:00:00,250
-2 <b>-3'?</b> [-4 -5]

2
00:00:00,250 --> 00:00:01,750
-2 -3'? <b>[-4 -5]</b>

3
00:00:03,250 --> 00:00:04,250
<b>2</b> D#4+30?

4
00:00:04,250 --> 00:00:05,250
2 <b>D#4+30?</b>

`
	if b.String() != want {
		t.Errorf("%s\nwant\n%s", b.String(), want)
	}
}

func TestLongPhrase(t *testing.T) {
	var body strings.Builder
	body.WriteString("Phrase\n")
	for i := range 40 {
		body.WriteString("0:" + strconv.Itoa(10+i) + " 1 -3''\n")
	}
	cues := Cues(parse(t, body.String()), Options{})
	events := 0
	for _, c := range cues {
		if len(c.Lines) > mostLines {
			t.Errorf("%d lines", len(c.Lines))
		}
		for _, l := range c.Lines {
			events += len(l)
			if n := len(strings.Join(l, " ")); n > lineWidth {
				t.Errorf("a line of %d characters", n)
			}
		}
	}
	if events != 40 || len(cues) != 3 || cues[1].Start != 24 || cues[0].End != 24 {
		t.Errorf("%d events in %+v", events, cues)
	}
}

// The grammar of WebVTT cues, W3C Candidate Recommendation of 4 April 2019,
// section 4.1: timings with three decimals, the end after the start, starts in
// order, text without --> and without a blank line.
func TestVTTGrammar(t *testing.T) {
	const timing = `(\d{2,}):([0-5]\d):([0-5]\d)\.(\d{3})`
	block := regexp.MustCompile(`^[^\n]*\n` + timing + ` --> ` + timing + `\n((?:[^\n]+\n?)+)$`)
	payload := regexp.MustCompile(`^(?:[^<>&]|&amp;|&lt;|&gt;|<b>[^<>]*</b>)*$`)
	seconds := func(m []string) float64 {
		v := make([]float64, 4)
		for i, s := range m {
			v[i], _ = strconv.ParseFloat(s, 64)
		}
		return v[0]*3600 + v[1]*60 + v[2] + v[3]/1000
	}
	h := harptest.Of(t, "C", "richter")
	actions := h.Actions(true)
	for seed := range uint64(300) {
		rng := rand.New(rand.NewPCG(seed, 2))
		d := tab.Document{Harp: h}
		at := 5000 * rng.Float64()
		for range 1 + rng.IntN(60) {
			if rng.IntN(6) == 0 {
				d.Phrases = append(d.Phrases, tab.Phrase{Start: at, End: at + 1})
			}
			e := tab.Event{Start: at, End: at + rng.Float64(), Actions: actions[rng.IntN(len(actions)):][:1],
				Confidence: rng.Float64()}
			if rng.IntN(5) == 0 {
				e.Actions, e.Pitches = nil, []float64{60 + 10*rng.Float64()}
			}
			d.Events = append(d.Events, e)
			at += rng.Float64() * float64(rng.IntN(3))
		}
		text := vtt(t, d, Options{Offset: 100 * (rng.Float64() - 0.5), ByEvent: seed%2 == 0})
		rest, ok := strings.CutPrefix(text, "WEBVTT\n\n")
		if !ok {
			t.Fatalf("seed %d: no signature", seed)
		}
		if rest == "" {
			continue // all before the video
		}
		last := math.Inf(-1)
		for _, b := range strings.Split(strings.TrimSuffix(rest, "\n\n"), "\n\n") {
			m := block.FindStringSubmatch(b)
			if m == nil || strings.Contains(m[9], "-->") || !payload.MatchString(m[9]) {
				t.Fatalf("seed %d: not a cue:\n%s", seed, b)
			}
			from, to := seconds(m[1:5]), seconds(m[5:9])
			if to <= from || from < last {
				t.Fatalf("seed %d: times out of order:\n%s", seed, b)
			}
			last = from
		}
	}
}

// Text from outside, a word that looks like markup, stays text.
func TestEscape(t *testing.T) {
	c := Cue{0, 1, [][]string{{"<b>", "a&b-->"}}, 0}
	if got := text(c, escapeVTT); got != "<b>&lt;b&gt;</b> a&amp;b--&gt;" {
		t.Error(got)
	}
}

// A real browser's text track reads the same cues.
func TestInBrowser(t *testing.T) {
	programs.Need(t, "chromium")
	d := parse(t, twoPhrases)
	for _, byEvent := range []bool{false, true} {
		opt := Options{Offset: -60, ByEvent: byEvent}
		dir := t.TempDir()
		page := filepath.Join(dir, "page.html")
		track := "data:text/vtt;base64," + base64.StdEncoding.EncodeToString([]byte(vtt(t, d, opt)))
		content := `<video><track default src="` + track + `"></video><pre></pre><script>
const track = document.querySelector("track");
track.track.mode = "hidden";
track.onerror = () => document.querySelector("pre").textContent = "error";
track.onload = () => document.querySelector("pre").textContent = [...track.track.cues]
  .map(c => c.startTime + " " + c.endTime + " " + c.getCueAsHTML().textContent).join("\n");
</script>`
		if err := os.WriteFile(page, []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command("chromium", "--headless", "--no-sandbox", "--disable-gpu",
			"--user-data-dir="+dir,
			"--virtual-time-budget=5000", "--dump-dom", "file://"+page).Output()
		if err != nil {
			t.Fatalf("chromium: %v", err)
		}
		var want []string
		for _, c := range Cues(d, opt) {
			c.Bold = -1
			want = append(want, fmt.Sprint(c.Start, " ", c.End, " ", text(c, strings.NewReplacer())))
		}
		if !strings.Contains(string(out), "<pre>"+strings.Join(want, "\n")+"</pre>") {
			t.Errorf("by event %v: %s\nwant\n%s", byEvent, out, strings.Join(want, "\n"))
		}
	}
}
