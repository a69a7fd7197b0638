package formats_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"blowdraw/tabber/formats/captions"
	"blowdraw/tabber/formats/invent"
	"blowdraw/tabber/formats/midi"
	"blowdraw/tabber/formats/musicxml"
	"blowdraw/tabber/formats/sheet"
	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/tab"

	"gitlab.com/gomidi/midi/v2/smf"
	"golang.org/x/net/html"
)

// hostile are texts that would end, begin or run something where they are not kept text.
var hostile = []string{
	"", "plain.wav", `</title><script>document.title="hit"</script>`, `"><img src=x onerror=alert(1)>`,
	"' onload='alert(1)", "<!--", "-->", "]]>", "&lt;&#0;&amp;&unknown;", "<![CDATA[", "<?xml?>",
	"a\x1b[2J\x07\x00\r\nb", "\u0085\u009b2J\u2028\u2029\u202e\ufffe\uffff\ufeff", "\xff\xc0\x80\xed\xa0\x80",
	"{{.}}", "${x}`", "\\u003c/script>", "00:00:01.000 --> 00:00:02.000", "NOTE", "*_`[a](javascript:x)",
	"=1+1", "bar 1 0:01", "0:01 0.5 -4", "harp: C", "# #", "? 5%, or -4", "𝄞 Größe 口琴 гармошка",
}

// texts are what comes from outside in a tab.
type texts struct{ recording, layout, note, header, comment, remark string }

// with puts texts into a tab. Each is put between two letters, so that none is empty.
func with(d tab.Document, x texts) tab.Document {
	word := func(s string) string { return "x" + s + "x" }
	d.Recording, d.Notes = word(x.recording), []string{word(x.note)}
	d.Harp.Layout.Name = "richter"
	if x.layout != "" {
		d.Harp.Layout.Name = word(x.layout)
	}
	d.Other = []tab.HeaderLine{{Name: "teacher", Value: word(x.header)}}
	d.Remarks = []tab.Remark{{Before: -1, Text: word(x.remark)}, {Before: 1, Text: word(x.remark)}}
	d.Events = slices.Clone(d.Events)
	for i := range d.Events {
		d.Events[i].Comment = word(x.comment)
		d.Events[i].Marks = slices.Clone(d.Events[i].Marks)
		for k, m := range d.Events[i].Marks {
			if m.Name == tab.Bleed {
				d.Events[i].Marks[k].DB = -11
			}
		}
	}
	return d
}

// seeds adds each hostile text in each place, for either form.
func seeds(f *testing.F) {
	for i, s := range hostile {
		for form := range 2 {
			f.Add(uint8(i%len(small)+form*len(small)), s, hostile[(i+1)%len(hostile)], s, s,
				hostile[(i+3)%len(hostile)], s)
		}
	}
}

// secondForm reports which of two forms of a tab is written, so that the engine tries a
// thousand a second.
func secondForm(seed uint8) bool { return int(seed)/len(small)%2 == 1 }

// mostText is how many bytes a text has at most. What is longer is cut.
const mostText = 100

// pair is a tab with texts from outside, and the same with harmless ones.
func pair(seed uint8, x texts) (outside, plain tab.Document) {
	for _, s := range []*string{&x.recording, &x.layout, &x.note, &x.header, &x.comment, &x.remark} {
		*s = (*s)[:min(len(*s), mostText)]
	}
	// A layout's name is one word, or the layout is not read.
	odd := func(r rune) bool { return !unicode.IsGraphic(r) || unicode.IsSpace(r) }
	if !utf8.ValidString(x.layout) || strings.ContainsFunc(x.layout, odd) {
		x.layout = ""
	}
	d := small[seed%uint8(len(small))]
	harmless := texts{}
	if x.layout != "" {
		harmless.layout = "a"
	}
	return with(d, x), with(d, harmless)
}

// small are made-up tabs of one event or two, so that the engine tries thousands a second.
var small = func() (list [8]tab.Document) {
	for seed := range list {
		d := invent.Document(uint64(seed), true)
		d.Events, d.Phrases = d.Events[:min(1+seed%2, len(d.Events))], d.Phrases[:1]
		d.Bars = d.Bars[:min(1+seed%2, len(d.Bars))]
		d.To = d.Events[len(d.Events)-1].End
		d.Phrases[0].End = d.To
		list[seed] = d
	}
	return list
}()

// once keeps what was made of a tab, by its layout's name and its first event, so that what
// harmless texts make is made once.
func once[T any](make func(*testing.T, tab.Document) T) func(*testing.T, tab.Document) T {
	made := map[string]T{}
	return func(t *testing.T, d tab.Document) T {
		t.Helper()
		key := fmt.Sprint(d.Harp.Layout.Name, d.Harp.Name, d.Events[0].Start)
		if _, ok := made[key]; !ok {
			made[key] = make(t, d)
		}
		return made[key]
	}
}

func written(t *testing.T, d tab.Document, write func(io.Writer, tab.Document) error) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b, d); err != nil {
		t.Fatalf("%v, of %+v", err, d)
	}
	return b.Bytes()
}

// shape is what a parser finds in HTML but for the text: elements and their attributes.
func shape(t *testing.T, b []byte) (elements []string, title string) {
	t.Helper()
	root, err := html.Parse(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	for n := range root.Descendants() {
		if n.Type == html.TextNode {
			continue
		}
		elements = append(elements, fmt.Sprintf("%d %s %v", n.Type, n.Data, n.Attr))
		if n.Data == "title" && n.FirstChild != nil {
			title += n.FirstChild.Data
		}
	}
	return elements, title
}

// A sheet for teachers, which has all that the tab says.
func sheetHTML(w io.Writer, d tab.Document) error { return sheet.WriteHTML(w, d, sheet.Options{}) }

func sheetMarkdown(w io.Writer, d tab.Document) error {
	return sheet.WriteMarkdown(w, d, sheet.Options{})
}

// Text from outside adds nothing to a sheet but text: an independent parser
// (golang.org/x/net/html, which follows the HTML standard) finds the same elements. Markdown
// has the same lines.
func FuzzTextInSheet(f *testing.F) {
	seeds(f)
	elements := once(func(t *testing.T, d tab.Document) []string {
		found, _ := shape(t, written(t, d, sheetHTML))
		return found
	})
	lines := once(func(t *testing.T, d tab.Document) int {
		return bytes.Count(written(t, d, sheetMarkdown), []byte("\n"))
	})
	f.Fuzz(func(t *testing.T, seed uint8, recording, layout, note, header, comment, remark string) {
		outside, plain := pair(seed, texts{recording, layout, note, header, comment, remark})
		if secondForm(seed) {
			mark := written(t, outside, sheetMarkdown)
			if bytes.Count(mark, []byte("\n")) != lines(t, plain) {
				t.Errorf("not %d lines of Markdown:\n%s", lines(t, plain), mark)
			}
			noControls(t, "Markdown", mark)
			return
		}
		got, title := shape(t, written(t, outside, sheetHTML))
		if want := elements(t, plain); !slices.Equal(got, want) {
			t.Errorf("elements\n%q, with harmless texts\n%q", got, want)
		}
		if !strings.HasPrefix(title, "x") {
			t.Errorf("title %q", title)
		}
	})
}

// noControls wants no control characters but line ends.
func noControls(t *testing.T, what string, b []byte) {
	t.Helper()
	for _, r := range string(b) {
		if r < ' ' && r != '\n' || r >= 0x7f && r < 0xa0 {
			t.Errorf("%s has the character %U: %q", what, r, b)
			return
		}
	}
}

// elementsOf are the elements of a well-formed XML document with their attributes, as
// encoding/xml finds them.
func elementsOf(t *testing.T, b []byte) (elements []string) {
	t.Helper()
	in := xml.NewDecoder(bytes.NewReader(b))
	for {
		token, err := in.Token()
		if errors.Is(err, io.EOF) {
			return elements
		}
		if err != nil {
			t.Fatalf("%v in %s", err, b)
		}
		switch e := token.(type) {
		case xml.StartElement:
			said := e.Name.Local
			for _, a := range e.Attr {
				said += " " + a.Name.Space + ":" + a.Name.Local + "=" + a.Value
			}
			elements = append(elements, said)
		case xml.Comment, xml.Directive:
			t.Errorf("%T %s", e, e)
		}
	}
}

// Text from outside adds nothing to a score or a picture but text.
func FuzzTextInXML(f *testing.F) {
	seeds(f)
	score := func(t *testing.T, d tab.Document) []string { return elementsOf(t, written(t, d, musicxml.Write)) }
	picture := func(t *testing.T, d tab.Document) []string {
		return elementsOf(t, written(t, d, phrasing.WriteSVG))
	}
	plainScore, plainPicture := once(score), once(picture)
	f.Fuzz(func(t *testing.T, seed uint8, recording, layout, note, header, comment, remark string) {
		outside, plain := pair(seed, texts{recording, layout, note, header, comment, remark})
		if secondForm(seed) {
			if got, want := score(t, outside), plainScore(t, plain); !slices.Equal(got, want) {
				t.Errorf("MusicXML: elements\n%q, with harmless texts\n%q", got, want)
			}
			return
		}
		if got, want := picture(t, outside), plainPicture(t, plain); !slices.Equal(got, want) {
			t.Errorf("SVG: elements\n%q, with harmless texts\n%q", got, want)
		}
	})
}

// Text from outside adds nothing to MIDI, captions, CSV and JSON but text, and the tab reads
// back with the same events, remarks and header lines.
func FuzzTextInTab(f *testing.F) {
	seeds(f)
	plainMessages := once(messages)
	var write [2]func(*testing.T, tab.Document) []byte
	var plainCaptions [len(write)]func(*testing.T, tab.Document) []byte
	for i, form := range []func(io.Writer, tab.Document, captions.Options) error{
		captions.WriteVTT, captions.WriteSRT,
	} {
		one := func(w io.Writer, d tab.Document) error { return form(w, d, captions.Options{ByEvent: true}) }
		write[i] = func(t *testing.T, d tab.Document) []byte { return written(t, d, one) }
		plainCaptions[i] = once(write[i])
	}
	plainRows := once(func(t *testing.T, d tab.Document) int {
		rows, err := csv.NewReader(bytes.NewReader(written(t, d, tab.WriteCSV))).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		return len(rows)
	})
	f.Fuzz(func(t *testing.T, seed uint8, recording, layout, note, header, comment, remark string) {
		outside, plain := pair(seed, texts{recording, layout, note, header, comment, remark})
		if got, want := messages(t, outside), plainMessages(t, plain); !slices.Equal(got, want) {
			t.Errorf("MIDI\n%q, with harmless texts\n%q", got, want)
		}
		for i := range write {
			if got, want := write[i](t, outside), plainCaptions[i](t, plain); !bytes.Equal(got, want) {
				t.Errorf("captions\n%s\nwith harmless texts\n%s", got, want)
			}
		}
		if b := written(t, outside, tab.WriteJSON); !json.Valid(b) {
			t.Errorf("JSON %s", b)
		}
		rows, err := csv.NewReader(bytes.NewReader(written(t, outside, tab.WriteCSV))).ReadAll()
		if want := plainRows(t, plain); err != nil || len(rows) != want {
			t.Errorf("CSV of %d rows, with harmless texts %d (%v)", len(rows), want, err)
		}
		text := written(t, outside, tab.WriteText)
		back, err := tab.Parse(bytes.NewReader(text))
		if err != nil || len(back.Events) != len(plain.Events) || len(back.Remarks) != len(plain.Remarks) ||
			len(back.Notes) != 1 || len(back.Other) != 1 {
			t.Errorf("%v: %d events, %d remarks, notes %q, %q in\n%s",
				err, len(back.Events), len(back.Remarks), back.Notes, back.Other, text)
		}
		noControls(t, "the tab", text)
	})
}

// messages are those of a MIDI file with their times, but for the texts, as the library reads
// them.
func messages(t *testing.T, d tab.Document) (out []string) {
	t.Helper()
	s, err := smf.ReadFrom(bytes.NewReader(written(t, d, midi.Write)))
	if err != nil {
		t.Fatal(err)
	}
	for _, track := range s.Tracks {
		for _, e := range track {
			var name string
			if e.Message.GetMetaTrackName(&name) {
				noControls(t, "a track's name", []byte(name))
				out = append(out, "name")
				continue
			}
			out = append(out, fmt.Sprintf("%d % x", e.Delta, []byte(e.Message)))
		}
	}
	return out
}
