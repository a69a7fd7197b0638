//go:build long

package main

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"net/url"
	"strings"
	"testing"

	"blowdraw/decode"
	"blowdraw/tabber/evidence"
	"blowdraw/tabber/formats/sheet"
	"blowdraw/tabber/page"
	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/tab"

	"github.com/chromedp/cdproto/network"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// payloads would run, load or lead somewhere if a browser took them for more than text.
var payloads = []string{
	`<script>document.title="hit"</script>`, `</script><script>document.title="hit"</script>`,
	`<img src="http://127.0.0.1:9/x" onerror="document.title='hit'">`, `<svg onload="document.title='hit'">`,
	`<svg/><script>document.title="hit"</script>`, `<iframe src="javascript:parent.document.title='hit'">`,
	`<iframe srcdoc="<script>parent.document.title='hit'</script>">`, `<base href="http://127.0.0.1:9/">`,
	`<meta http-equiv="refresh" content="0;url=http://127.0.0.1:9/">`,
	`<link rel=stylesheet href=http://127.0.0.1:9/x>`,
	`<style>@import "http://127.0.0.1:9/x"; *{background:url(http://127.0.0.1:9/y)}</style>`,
	`<body onload="document.title='hit'">`, `<details open ontoggle="document.title='hit'">`,
	`<video src="http://127.0.0.1:9/x" autoplay onerror="document.title='hit'">`,
	`<object data="http://127.0.0.1:9/x">`,
	`<form action="http://127.0.0.1:9/"><button autofocus onfocus="alert(1)">`,
	`<a href="javascript:document.title='hit'" autofocus onfocus="document.title='hit'">x</a>`,
	`{{constructor.constructor("document.title='hit'")()}}`,
	"${document.title='hit'}", "`;document.title='hit';`",
	`";document.title="hit";"`, `';document.title='hit';'`, `\u003cscript>document.title="hit"\u003c/script>`,
	`&lt;script&gt;document.title="hit"&lt;/script&gt;`, "<!--", "<!--<script>",
	"--><script>document.title='hit'</script>",
	"]]><script>document.title='hit'</script>", `<![CDATA[<script>document.title="hit"</script>]]>`,
	`<!ENTITY x SYSTEM "http://127.0.0.1:9/x">&x;`, `<?xml-stylesheet href="http://127.0.0.1:9/x"?>`,
	`<math><mtext></form><form><mglyph><style></math><img src=x onerror=alert(1)>`,
	"</title></textarea></style></svg>",
	"<noscript><p title=\"</noscript><img src=x onerror=alert(1)>\">", "+ADw-script+AD4-document.title='hit'",
	"\x1b[2J\x00", "\u2028document.title='hit'\u2029", "javascript:document.title='hit'//", "file:///etc/passwd",
}

// hostileDocument has such texts wherever text can stand; without a source of chance
// harmless ones.
func hostileDocument(t *testing.T, r *rand.Rand) tab.Document {
	t.Helper()
	d, err := tab.Parse(strings.NewReader(pageTab))
	if err != nil {
		t.Fatal(err)
	}
	text := func() string {
		s := "x"
		for range 3 {
			if r != nil {
				s += payloads[r.IntN(len(payloads))] + []string{"", " ", `"`, "'", ">", "\r\n"}[r.IntN(6)]
			}
		}
		return s
	}
	d.Recording, d.Notes, d.Form = text(), []string{text(), text()}, text()
	d.Other = []tab.HeaderLine{{Name: "teacher", Value: text()}}
	d.Remarks = []tab.Remark{{Before: -1, Text: text()}, {Before: 3, Text: text()}}
	for i := range d.Events {
		d.Events[i].Comment = text()
	}
	return d
}

// browserFile is a file that a browser opens.
type browserFile struct {
	name  string
	write func(w io.Writer, d tab.Document) error
}

func browserFiles(t *testing.T) []browserFile {
	t.Helper()
	x := make([]float64, 8000)
	for i := range x {
		x[i] = 0.3 * math.Sin(2*math.Pi*440*float64(i)/8000)
	}
	clip := decode.Clip{Rate: 22050, Samples: tone(1)}
	sounds, usual := evidence.Sounds(clip)
	looks := evidence.AloneLooks(clip, sounds, usual)
	return []browserFile{
		{"inside.html", func(w io.Writer, d tab.Document) error {
			return page.Write(w, page.Page{Tab: d, Rate: 8000, Samples: x})
		}},
		{"sheet.html", func(w io.Writer, d tab.Document) error {
			return sheet.WriteHTML(w, d, sheet.Options{})
		}},
		{"strip.svg", func(w io.Writer, d tab.Document) error { return phrasing.WriteSVG(w, d) }},
		{"partials.svg", func(w io.Writer, d tab.Document) error {
			return evidence.WriteSVG(w, d.Recording, looks, tab.Clock)
		}},
	}
}

// seenElements are the elements that a browser has, with the names of their attributes, but
// for where a picture is wider or narrower.
const seenElements = `[...document.querySelectorAll("*")].map(e => e.tagName + " " +
	[...e.attributes].map(a => a.name)).join("\n")`

// watched is a browser that also notes which other files are fetched, and dialogs.
func watched(t *testing.T, dir string) *pageBrowser {
	t.Helper()
	b := openBrowser(t)
	home := (&url.URL{Scheme: "file", Path: dir}).String()
	b.check(chromedp.Listen(b.ctx, func(event any) {
		says := ""
		switch e := event.(type) {
		case *network.EventRequestWillBeSent:
			if u := e.Request.URL; strings.HasPrefix(u, "file:") && !strings.HasPrefix(u, home) {
				says = "fetched: " + u
			}
		case *cdppage.EventJavascriptDialogOpening:
			says = "dialog: " + e.Message
		}
		if says != "" {
			b.lock.Lock()
			defer b.lock.Unlock()
			b.troubles = append(b.troubles, says)
		}
	}))
	_, err := chromedp.Call(b.ctx, cdppage.Enable, cdppage.EnableParams{})
	b.check(err)
	return b
}

// look opens a file and returns its elements, of a page with each of its notes chosen.
func (b *pageBrowser) look(path string) string {
	b.t.Helper()
	b.visit(path)
	seen := eval[string](b, seenElements)
	for n := 1; n <= eval[int](b, `document.querySelectorAll("#sheet li button").length`); n++ {
		b.chooseNote(n)
		seen += eval[string](b, seenElements)
	}
	if title := eval[string](b, `String(document.title)`); strings.HasPrefix(title, "hit") {
		b.t.Errorf("%s: something ran", path)
	}
	return seen
}

// Hundreds of pages, sheets and pictures full of hostile text in Chromium: nothing runs,
// nothing is fetched, no policy is violated, and there are no other elements than with
// harmless text.
func TestHostileTextInBrowser(t *testing.T) {
	dir := t.TempDir()
	r := rand.New(rand.NewPCG(3, 3))
	files := browserFiles(t)
	write := func(f browserFile, d tab.Document) string {
		t.Helper()
		var content bytes.Buffer
		if err := f.write(&content, d); err != nil {
			t.Fatal(err)
		}
		return put(t, dir, f.name, content.Bytes())
	}
	opened := 0
	for part := range 3 {
		t.Run(fmt.Sprint(part), func(t *testing.T) {
			b := watched(t, dir)
			if part == 0 {
				b.checkWatch(dir)
			}
			for _, f := range files {
				want := b.look(write(f, hostileDocument(t, nil)))
				if told := b.noted(); len(want) < 100 || len(told) > 0 {
					t.Fatalf("%s with harmless text has %d bytes of elements; %q", f.name, len(want), told)
				}
				for range 20 {
					d := hostileDocument(t, r)
					seen := b.look(write(f, d))
					opened++
					if told := b.noted(); seen != want || len(told) > 0 {
						t.Errorf("%s: %q, other elements: %v, of %+v", f.name, told, seen != want, d)
					}
				}
			}
		})
	}
	t.Logf("%d files opened", opened)
}

// checkWatch sees that what must not happen would be seen: a script that runs, an image that
// is fetched, a policy that is violated, a dialog.
func (b *pageBrowser) checkWatch(dir string) {
	b.t.Helper()
	for says, html := range map[string]string{
		"fetched: http://127.0.0.1:9/x": `<img src="http://127.0.0.1:9/x">`,
		"Content Security Policy": `<meta http-equiv="Content-Security-Policy" content="default-src 'none'">` +
			`<script>document.title = "hit"</script>`,
		"hit": `<script>document.title = "hit"; console.log("hit")</script>`,
	} {
		path := put(b.t, dir, "watch.html", []byte("<!doctype html>"+html))
		b.visit(path)
		title := eval[string](b, "document.title")
		for range 100 {
			if told := fmt.Sprint(title, b.noted()); strings.Contains(told, says) {
				says = ""
				break
			}
			b.do("new Promise(done => setTimeout(done, 20))")
		}
		if says != "" {
			b.t.Errorf("%q was not seen", says)
		}
	}
	b.noted()
}
