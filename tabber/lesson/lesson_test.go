package lesson

import (
	"bytes"
	"strings"
	"testing"

	"blowdraw/tabber/tab"
)

// Text from outside stays text, nothing is loaded from elsewhere, and every sound and
// caution is there.
func TestWrite(t *testing.T) {
	const hostile = `</title><script>alert(1)</script><img src=x>`
	d, err := tab.Parse(strings.NewReader("blowdraw tab 1\nrecording: " + hostile +
		"\nharp: A\nsong: E\ntempo: 60 bpm\nbar 3 0:01 I\nbar 4 0:05\n" +
		"Phrase\n0:01 0.5 -2\n0:06 0.5 {D#4+30} ?\nPhrase\n0:09 0.5 2\n"))
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	sounds := [][]Sound{{{"phrases/01.flac", "as recorded"}}, {{"phrases/02.flac", "slower"}}}
	if err := Write(&b, Lesson{d, []File{{"sheet.html", "to print"}}, sounds}); err != nil {
		t.Fatal(err)
	}
	html := b.String()
	for want, n := range map[string]int{"<script": 0, "<img": 0, "http": 1, "<section": 2, "<audio": 2,
		`src="phrases/02.flac"`: 1, `href="sheet.html"`: 1, "bars 3 to 4": 1, "bar 5": 1, "D#4&#43;30": 1,
		"Spare your ears": 1, "local law": 1} {
		if got := strings.Count(html, want); got != n {
			t.Errorf("%q %d times, want %d", want, got, n)
		}
	}
	if !strings.Contains(html, "default-src &#39;none&#39;") {
		t.Error("anything may be loaded")
	}
}
