package musicxml

import (
	"archive/zip"
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"blowdraw/decode/programs"
	"blowdraw/tabber/formats/invent"
	"blowdraw/tabber/formats/melody"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/tab"
	"blowdraw/tabber/tab/grid"
)

func written(t testing.TB, d tab.Document) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, d); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// Nothing is lost on the way there and back: every note with its holes and bends,
// in order. Times are those of the notation.
func TestRoundTrip(t *testing.T) {
	for seed := range uint64(400) {
		d := invent.Document(seed, false)
		m, err := Read(bytes.NewReader(written(t, d)))
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if len(m.Parts) != 1 || m.Key != d.SongKey {
			t.Fatalf("seed %d: %d parts, key %d; want 1, %d", seed, len(m.Parts), m.Key, d.SongKey)
		}
		got, flags := m.Tab(m.Parts[0], d.Harp, m.Key, true)
		if len(flags) > 0 || len(got.Events) != len(d.Events) {
			t.Fatalf("seed %d: %d events, %d flags; want %d and none",
				seed, len(got.Events), len(flags), len(d.Events))
		}
		beat := 60 / d.BPM
		checkBars(t, seed, got)
		for i, e := range d.Events {
			g := got.Events[i]
			off := (g.Start - got.Events[0].Start) - (e.Start - d.Events[0].Start)
			if math.Abs(off) > beat/6+0.01 || !slices.Equal(g.Actions, e.Actions) {
				t.Fatalf("seed %d, event %d: %s, %.3f s late, want %s",
					seed, i, tab.Token(g.Actions), off, tab.Token(e.Actions))
			}
		}
	}
}

// xmllint finds no fault by the W3C's schema.
func TestSchema(t *testing.T) {
	programs.Need(t, "xmllint")
	dir := t.TempDir()
	var files []string
	for seed := range uint64(40) {
		d := invent.Document(seed, true)
		if seed == 0 {
			d.Recording = "<b>&\"'\x01\u00e9]]>.wav"
		}
		path := filepath.Join(dir, fmt.Sprintf("%d.musicxml", seed))
		if err := os.WriteFile(path, written(t, d), 0o600); err != nil {
			t.Fatal(err)
		}
		files = append(files, path)
	}
	cmd := exec.Command("xmllint", append([]string{"--nonet", "--noout", "--schema", "testdata/musicxml.xsd"},
		files...)...)
	cmd.Env = append(os.Environ(), "XML_CATALOG_FILES=testdata/catalog.xml")
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Errorf("xmllint: %v\n%s", err, out)
	}
}

func example(t *testing.T) tab.Document {
	t.Helper()
	d, err := tab.Parse(strings.NewReader("blowdraw tab 1\nrecording: porch.wav\nharp: A\nsong: E\n" +
		"tempo: 60 bpm\nPhrase\n" +
		"0:00 0.67 -2\n0:00.67 0.33 -3'\n0:01 1 [-4 -5]\n0:02 0.5 -3 ?\n0:02.5 0.5 -3''\n0:03 2 -2\n"))
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// What a reader of the score sees.
func TestElements(t *testing.T) {
	text := string(written(t, example(t)))
	for want, n := range map[string]int{
		"<measure ":                        2,
		"<fifths>4</fifths>":               1, // E major, circle of fifths
		"<chord>":                          1,
		"<tie type=\"start\">":             1,
		"<bend-alter>-1</bend-alter>":      1,
		"<bend-alter>-2</bend-alter>":      1,
		"<slide type=\"start\"":            1, // -3 to -3''
		"<slur ":                           2,
		"<breath-mark>":                    1,
		"<tuplet ":                         2,
		"<text>[-4 -5]</text>":             1,
		"<text>-3?</text>":                 1,
		"<text>-3&#39;</text>":             1,
		"<accidental>natural</accidental>": 2, // G in E major, on -3'; D on -5
		"<per-minute>60</per-minute>":      1,
		"<midi-program>23</midi-program>":  1,
	} {
		if got := strings.Count(text, want); got != n {
			t.Errorf("%s %d times, want %d\n", want, got, n)
		}
	}
	if t.Failed() {
		t.Log(text)
	}
}

// A score from elsewhere, by hand: two voices, a tie over the bar, a grace note, a
// transposing part, tempo by a metronome mark.
const foreign = `<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 3.1 Partwise//EN" "http://www.musicxml.org/dtds/partwise.dtd">
<score-partwise version="3.1"><part-list><score-part id="A"><part-name>Tune</part-name></score-part></part-list>
<part id="A"><measure number="1"><attributes><divisions>2</divisions><key><fifths>1</fifths></key>
<transpose><chromatic>-2</chromatic></transpose></attributes>
<direction><direction-type><metronome><beat-unit>half</beat-unit><per-minute>30</per-minute></metronome></direction-type></direction>
<note><grace/><pitch><step>B</step><octave>4</octave></pitch></note>
<note><pitch><step>A</step><octave>4</octave></pitch><duration>2</duration></note>
<note><rest/><duration>2</duration></note>
<note><pitch><step>B</step><alter>-1</alter><octave>4</octave></pitch><duration>4</duration><tie type="start"/></note>
<backup><duration>8</duration></backup><forward><duration>2</duration></forward>
<note><pitch><step>D</step><octave>5</octave></pitch><duration>2</duration><voice>2</voice></note>
</measure><measure number="2">
<note><pitch><step>B</step><alter>-1</alter><octave>4</octave></pitch><duration>1</duration><tie type="stop"/></note>
</measure></part></score-partwise>`

func TestReadForeign(t *testing.T) {
	check := func(m melody.Melody, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		want := []melody.Note{{Start: 0, End: 1, Pitch: 67}, {Start: 1, End: 2, Pitch: 72},
			{Start: 2, End: 4.5, Pitch: 68}}
		if len(m.Parts) != 1 || m.Parts[0].Name != "Tune" || !slices.Equal(m.Parts[0].Notes, want) ||
			m.BPM != 60 || m.Key != 5 {
			t.Errorf("%+v, want %+v at 60 bpm in F", m, want)
		}
	}
	check(Read(strings.NewReader(foreign)))
	check(Read(bytes.NewReader(packed(t, foreign))))
}

// packed is a score in the compressed form (MusicXML 4.0, "Compressed .mxl files").
func packed(t testing.TB, score string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for name, text := range map[string]string{
		"META-INF/container.xml": `<container><rootfiles><rootfile full-path="a/b.xml"/></rootfiles></container>`, "a/b.xml": score,
	} {
		f, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		f.Write([]byte(text))
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// A measure without anything in it, as engravers leave them, and numbers of bars
// beyond all measure: the notes are read, and what is written can be read again.
func TestReadOddBars(t *testing.T) {
	note := "<note><pitch><step>E</step><octave>5</octave></pitch><duration>4</duration></note>"
	for bars, want := range map[string]int{
		`<measure number="1">` + note + "%s</measure>" + `<measure number="2">` + note +
			`</measure>`: 2,
		`<measure number="1">` + note + "%s</measure>" + `<measure number="2"/><measure number="3">` + note +
			`</measure>`: 0,
		`<measure number="99999999">` + note + "%s</measure>" + `<measure number="100000000">` + note +
			`</measure>`: 2,
		`<measure number="1"><sound tempo="900000"/>` + note + "%s</measure>" + `<measure number="2">` +
			note + `</measure>`: 2,
	} {
		score := `<score-partwise version="4.0"><part-list><score-part id="P"><part-name>x</part-name></score-part></part-list><part id="P">` +
			fmt.Sprintf(
				bars,
				"<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>",
			) + `</part></score-partwise>`
		m, err := Read(strings.NewReader(score))
		if err != nil || len(m.Parts) != 1 || len(m.Parts[0].Notes) != 2 {
			t.Errorf("%s: %+v, %v", bars, m, err)
			continue
		}
		if err := invent.Usable(m); err != nil {
			t.Errorf("%s: %v", bars, err)
		}
		h, err := harp.Parse("C", harp.Layouts()[0])
		if err != nil {
			t.Fatal(err)
		}
		if d, _ := m.Tab(m.Parts[0], h, 0, false); len(d.Bars) != want {
			t.Errorf("%s: bars %v, want %d", bars, d.Bars, want)
		}
	}
}

func TestReadErrors(t *testing.T) {
	for in, say := range map[string]string{
		"":                     "EOF",
		"hello":                "EOF",
		"<html></html>":        `"html"`,
		"<score-timewise/>":    "by parts",
		"PK\x03\x04 not a zip": "zip",
		`<?xml version="1.0" encoding="UTF-16"?><score-partwise/>`: "UTF-8",
	} {
		if _, err := Read(strings.NewReader(in)); err == nil || !strings.Contains(err.Error(), say) {
			t.Errorf("%q: %v, want %q", in, err, say)
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(foreign))
	f.Add(packed(f, foreign))
	f.Add(written(f, invent.Document(1, true)))
	f.Fuzz(func(t *testing.T, b []byte) {
		m, err := Read(bytes.NewReader(b))
		if err != nil {
			return
		}
		if err := invent.Usable(m); err != nil {
			t.Error(err)
		}
	})
}

// An engraver by others (the npm package verovio) draws every note, and the tab
// under it.
func TestEngraved(t *testing.T) {
	programs.Need(t, "node")
	dir := t.TempDir()
	var files []string
	var docs []tab.Document
	for seed := range uint64(12) {
		d := invent.Document(seed, true)
		path := filepath.Join(dir, fmt.Sprintf("%d.musicxml", seed))
		if err := os.WriteFile(path, written(t, d), 0o600); err != nil {
			t.Fatal(err)
		}
		files, docs = append(files, path), append(docs, d)
	}
	out, err := exec.Command("node", append([]string{"testdata/engrave.mjs"}, files...)...).CombinedOutput()
	if err != nil && bytes.Contains(out, []byte("Cannot find module")) {
		programs.Missing(t, "the npm package verovio is not on NODE_PATH")
	}
	if err != nil {
		t.Fatalf("engraving: %v\n%s", err, out)
	}
	var drawn [][4]int
	for _, line := range strings.Split(strings.TrimSpace(string(out)), "\n") {
		var n [4]int
		// other lines are the engraver's warnings
		if _, err := fmt.Sscan(line, &n[0], &n[1], &n[2], &n[3]); err == nil {
			drawn = append(drawn, n)
		}
	}
	if len(drawn) != len(docs) {
		t.Fatalf("%d engravings of %d:\n%s", len(drawn), len(docs), out)
	}
	for i, d := range docs {
		g := grid.Of(d)
		var want [4]int
		for _, b := range g.Bars(g.Spans(d)) {
			want[3]++
			for _, p := range b.Pieces {
				for _, e := range p.Events {
					want[0] += len(d.Sounding(d.Events[e]))
				}
			}
		}
		want[1] = len(d.Events)
		for _, p := range phrasing.Groups(d) {
			if len(p) > 1 {
				want[2]++
			}
		}
		if drawn[i] != want {
			t.Errorf("seed %d: notes, lyrics, slurs and bars %v, want %v", i, drawn[i], want)
		}
	}
}

// checkBars wants bar lines that a tab can have.
func checkBars(t *testing.T, seed uint64, d tab.Document) {
	t.Helper()
	var b bytes.Buffer
	if err := tab.WriteText(&b, d); err != nil || len(d.Bars) == 0 {
		t.Fatalf("seed %d: %d bars, %v", seed, len(d.Bars), err)
	}
}
