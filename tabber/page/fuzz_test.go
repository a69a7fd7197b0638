package page

import (
	"bytes"
	"encoding/json"
	"fmt"
	"html/template"
	"slices"
	"strings"
	"testing"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"

	"golang.org/x/net/html"
)

// hostileTab is a tab with text from outside wherever it can stand, between letters so
// that none is empty.
func hostileTab(h harp.Harp, recording, header, comment, remark string) tab.Document {
	word := func(s string) string { return "x" + s + "x" }
	return tab.Document{
		Recording: word(recording), Harp: h, SongKey: 4, To: 2, BPM: 90, Notes: []string{word(header)},
		Other: []tab.HeaderLine{{Name: "teacher", Value: word(header)}},
		Events: []tab.Event{{Start: 0.5, End: 1, Actions: []harp.Action{{Hole: 4, Breath: harp.Draw}},
			Confidence: 1, Comment: word(comment)}},
		Remarks: []tab.Remark{{Before: -1, Text: word(remark)}, {Before: 1, Text: word(remark)}},
	}
}

// What is said of the harp and of marks, the style, the script and the page's own words and
// buttons are the same whatever the texts, so that the target has little or nothing in their
// place: the engine then tries more than a thousand texts a second.
const (
	shortStyle  = "p { color: #123 }"
	shortScript = "one(2 < 3, \"</b>\")"
)

// mostText is how many bytes a text has at most, to the same end. What is longer is cut.
const mostText = 100

// shortTemplate is the page's without the words and buttons that all pages have.
func shortTemplate(f *testing.F) *template.Template {
	f.Helper()
	before, rest, found := strings.Cut(read("page.html"), "<noscript>")
	same, after, found2 := strings.Cut(rest, `<script type="application/json" id="data">`)
	if !found || !found2 || strings.Contains(same, "{{") {
		f.Fatal("the page has other parts than were known")
	}
	short, err := template.New("page").Parse(before + `<script type="application/json" id="data">` + after)
	if err != nil {
		f.Fatal(err)
	}
	return short
}

// insidePage is what a parser that follows the HTML standard (golang.org/x/net/html) finds
// in a page: its elements with their attributes, the content security policy apart, the
// scripts that run, and the data.
func insidePage(t *testing.T, short *template.Template, p Page) (elements, scripts []string, d data) {
	t.Helper()
	c, err := contentOf(p)
	if err != nil {
		t.Fatal(err)
	}
	c.Data.Cells, c.Data.Marks, c.Data.Intervals = c.Data.Cells[:1], c.Data.Marks[:1], c.Data.Intervals[:1]
	var b bytes.Buffer
	if err := short.Execute(&b, c.with(shortStyle, shortScript)); err != nil {
		t.Fatal(err)
	}
	root, err := html.Parse(&b)
	if err != nil {
		t.Fatal(err)
	}
	for n := range root.Descendants() {
		if n.Type == html.TextNode {
			continue
		}
		elements = append(elements, fmt.Sprint(n.Type, n.Data, n.Attr))
		if n.Data != "script" {
			continue
		}
		text := ""
		if n.FirstChild != nil {
			text = n.FirstChild.Data
		}
		switch {
		case slices.Contains(n.Attr, html.Attribute{Key: "id", Val: "data"}):
			if err := json.Unmarshal([]byte(text), &d); err != nil {
				t.Fatalf("%v in %s", err, text)
			}
		case !slices.Contains(n.Attr, html.Attribute{Key: "id", Val: "sound"}):
			scripts = append(scripts, text)
		}
	}
	return elements, scripts, d
}

// Text from outside adds nothing to a page but text: the same elements and the same script,
// and data that says the text.
func FuzzText(f *testing.F) {
	for _, s := range []string{
		"", hostile, "<!-- <script>", "-->", "]]>", "'\"`${}", "\\u003c/script>", "\u2028\u2029\ufeff",
		"\x00\x1b\r\n", "\xff\xed\xa0\x80", "{{.}}", "javascript:alert(1)", "../../etc/passwd", "𝄞 口琴",
	} {
		f.Add(s, s, s, s, s)
		f.Add("", s, "", s, "file:///"+s)
	}
	h, err := harp.Parse("A", harp.Layouts()[0])
	if err != nil {
		f.Fatal(err)
	}
	page := func(d tab.Document, link string) Page {
		return Page{Tab: d, Rate: 8000, Samples: make([]float64, 16), Link: link}
	}
	short := shortTemplate(f)
	var want, program [2][]string // by whether the sound is in the page
	lines := 0
	f.Fuzz(func(t *testing.T, recording, header, comment, remark, link string) {
		for _, s := range []*string{&recording, &header, &comment, &remark, &link} {
			*s = (*s)[:min(len(*s), mostText)]
		}
		linked := 0
		if link != "" {
			linked = 1
		}
		if want[linked] == nil {
			var simple data
			plain := page(hostileTab(h, "", "", "", ""), "a.wav"[:5*linked])
			want[linked], program[linked], simple = insidePage(t, short, plain)
			lines = len(simple.Lines)
		}
		elements, scripts, d := insidePage(t, short, page(hostileTab(h, recording, header, comment, remark), link))
		if !slices.Equal(elements, want[linked]) {
			t.Errorf("elements\n%q, with harmless texts\n%q", elements, want[linked])
		}
		if !slices.Equal(scripts, program[linked]) {
			t.Error("another script runs")
		}
		if len(d.Lines) != lines || strings.ContainsAny(d.File, `/\`) || !strings.HasSuffix(d.File, ".tab") {
			t.Errorf("%d lines, with harmless texts %d; to be saved as %q", len(d.Lines), lines, d.File)
		}
	})
}
