package tab

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"flag"
	"math"
	"os"
	"reflect"
	"strings"
	"testing"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/harp/harptest"
)

var update = flag.Bool("update", false, "rewrite the golden files of this test")

var testHarp = harptest.Of

func actions(b harp.Breath, holeBend ...int) []harp.Action {
	var out []harp.Action
	for i := 0; i < len(holeBend); i += 2 {
		out = append(out, harp.Action{Breath: b, Hole: holeBend[i], Bend: holeBend[i+1]})
	}
	return out
}

// example has one of everything that a document can hold.
func example(t testing.TB) Document {
	d := Document{
		Recording: "porch #2.wav", From: 0, To: 75.2504, Harp: testHarp(t, "C", "richter"), SongKey: 7,
		TuningCents: -12.34, Channel: "left", BPM: 112, Meter: "4/4", Form: "twelve-bar", Ear: "comb",
		Bars: []Bar{{Number: 0, Start: 0.2719}, {Number: 1, Start: 2.4142, Chord: "I"},
			{Number: 2, Start: 3.0, Chord: "IV I"}, {Number: 3, Start: 6.7}},
		Notes:   []string{"The last note is cut off by the end of the section."},
		Phrases: []Phrase{{2.413, 4.2, true}, {Start: 61.0006, End: 64}},
		Remarks: []Remark{{Before: -1, Text: "for the Tuesday class"},
			{Before: 2, Text: "  slowly here"}, {Before: 6, Text: ""}, {Before: 6, Text: "the end"}},
	}
	draw, blow := harp.Draw, harp.Blow
	d.Events = []Event{
		{Start: 2.413, End: 2.721, Actions: actions(draw, 4, 0), Pitches: []float64{73.88}, Confidence: 0.97,
			Loudness: 3.26,
			Marks: []Mark{{Name: Slap}, {Name: Scoop, Cents: 76, Seconds: 0.128},
				{Name: Vibrato, Hz: 5.43, Cents: 23, DB: 1.24, Seconds: 0.15}}},
		{Start: 2.7211, End: 3.0004, Actions: actions(draw, 3, 1), Pitches: []float64{69.9}, Confidence: 0.62,
			Doubts: []Doubt{{HowFarBent, 0.28}, {StartsLater, 0}},
			Alternatives: []Alternative{{actions(draw, 3, 2), 0.251, 0}, {actions(blow, 3, 0), 0.1, 0},
				{nil, 0.02, 0}}, Comment: "check  this",
			Marks: []Mark{{Name: OffPitch, Cents: 35}}},
		{Start: 3.1, End: 4.2, Actions: actions(draw, 1, 0, 4, 0), Pitches: []float64{61.87, 73.88},
			Confidence: 0.9},
		{Start: 61.0006, End: 61.5, Actions: actions(draw, 4, 0, 5, 0), Pitches: []float64{73.88, 76.9},
			Confidence:   0.83,
			Alternatives: []Alternative{{actions(draw, 4, 0), 0.15, 0}}},
		{Start: 61.6, End: 62, Pitches: []float64{70.18}, Confidence: 0.5,
			Alternatives: []Alternative{{actions(blow, 6, -3), 0.03, 0}, {nil, 0.2, 0}}},
		{Start: 62.2, End: 64, Actions: actions(blow, 1, 0, 2, 0, 3, 0),
			Pitches: []float64{59.88, 63.88, 66.88}, Confidence: 0.9, Checked: true},
		{Start: 66, End: 67, Pitches: []float64{70.88, 80.88}, Confidence: 0.9, Doubts: []Doubt{{NotTheHarp, 0.1}}},
		{Start: 68, End: 69, Actions: actions(blow, 4, 0), Pitches: []float64{71.88}, Confidence: 1, Checked: true,
			Doubts: []Doubt{{Unsure, 0}}},
	}
	for i := range d.Events {
		d.Events[i].Texture = Texture(d.Events[i].Actions)
	}
	return d
}

func golden(t *testing.T, name string, write func(*bytes.Buffer) error) {
	t.Helper()
	var got bytes.Buffer
	if err := write(&got); err != nil {
		t.Fatal(err)
	}
	if *update {
		if err := os.WriteFile("testdata/"+name, got.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got.Bytes(), want) {
		t.Errorf("differs from testdata/%s (go test -update rewrites it):\n%s", name, got.String())
	}
}

func TestGolden(t *testing.T) {
	d := example(t)
	golden(t, "example.tab", func(b *bytes.Buffer) error { return WriteText(b, d) })
	golden(t, "example.json", func(b *bytes.Buffer) error { return WriteJSON(b, d) })
	golden(t, "example.csv", func(b *bytes.Buffer) error { return WriteCSV(b, d) })
}

// Common practice, no source: how players write tab.
func TestToken(t *testing.T) {
	h := testHarp(t, "C", "richter")
	for token, a := range map[string][]harp.Action{
		"4":          actions(harp.Blow, 4, 0),
		"-4":         actions(harp.Draw, 4, 0),
		"-3''":       actions(harp.Draw, 3, 2),
		"10''":       actions(harp.Blow, 10, 2),
		"6o":         actions(harp.Blow, 6, -3),
		"-7o":        actions(harp.Draw, 7, -2),
		"[-4 -5]":    actions(harp.Draw, 4, 0, 5, 0),
		"[1 4]":      actions(harp.Blow, 1, 0, 4, 0),
		"[-3'' -4']": actions(harp.Draw, 3, 2, 4, 1),
	} {
		if got := Token(a); got != token {
			t.Errorf("Token(%v) = %s, want %s", a, got, token)
		}
		if got, err := ParseToken(h, token); err != nil || !reflect.DeepEqual(got, a) {
			t.Errorf("ParseToken(%s) = %v, %v; want %v", token, got, err, a)
		}
	}
	for token, a := range map[string][]harp.Action{
		"+4": actions(harp.Blow, 4, 0), "−3’’": actions(harp.Draw, 3, 2), "-3\"": actions(harp.Draw, 3, 2),
		"4B": actions(harp.Blow, 4, 0), "4D": actions(harp.Draw, 4, 0), "4d": actions(harp.Draw, 4, 0),
		"-4D": actions(harp.Draw, 4, 0),
		"-3b": actions(harp.Draw, 3, 1), "-3bb": actions(harp.Draw, 3, 2), "3D''": actions(harp.Draw, 3, 2),
		"3''D": actions(harp.Draw, 3, 2),
		"3Db":  actions(harp.Draw, 3, 1), "+8b": actions(harp.Blow, 8, 1), "10B\"": actions(harp.Blow, 10, 2),
		"-3″": actions(harp.Draw, 3, 2),
		"6O":  actions(harp.Blow, 6, -3), "7Do": actions(harp.Draw, 7, -2),
		"-4/-5": actions(harp.Draw, 4, 0, 5, 0), "4D/5D": actions(harp.Draw, 4, 0, 5, 0),
		"(1 4)": actions(harp.Blow, 1, 0, 4, 0), "[1/4]": actions(harp.Blow, 1, 0, 4, 0),
		"[-5 -4]": actions(harp.Draw, 4, 0, 5, 0), "[-4]": actions(harp.Draw, 4, 0),
		" [1  4] ": actions(harp.Blow, 1, 0, 4, 0), "[1, 4]": actions(harp.Blow, 1, 0, 4, 0),
		"8B'": actions(harp.Blow, 8, 1), "(-4)": actions(harp.Draw, 4, 0), "[4]": actions(harp.Blow, 4, 0),
		"—4": actions(harp.Draw, 4, 0), "–4": actions(harp.Draw, 4, 0), "‑4": actions(harp.Draw, 4, 0),
		"＋4": actions(harp.Blow, 4, 0), "10bb": actions(harp.Blow, 10, 2),
	} {
		if got, err := ParseToken(h, token); err != nil || !reflect.DeepEqual(got, a) {
			t.Errorf("ParseToken(%s) = %v, %v; want %v", token, got, err, a)
		}
	}
	for token, say := range map[string]string{
		"": "no note", "[]": "no note", "11": "holes 1 to 10", "0": "holes 1 to 10",
		"-3''''": "no deeper than -3'''",
		"-5'":    "does not bend", "4'": "does not bend", "7o": "no overblow", "-6o": "no overdraw",
		"[-4 5]":   "blow and draw",
		"[-4 -4']": "hole 4 twice", "[-4 -5": "closing bracket", "-4 -5": "brackets", "x": "not tab",
		"4x": "not tab", "--4": "not tab", "4o'": "not tab",
		"-4B": "want one of them", "+4D": "want one of them", "4DD": "not tab", "4DB": "not tab",
		"8b": "want 8' for the bend, 8 for blow", "(4)": "want -4 for draw, 4 for blow",
		"-123": "want [-1 -2 -3] for notes together, -1 -2 -3 for notes in turn",
		"45":   "want [4 5] for", "310": "want [3 10] for", "-44": "want -4 -4 for notes in turn",
		"45D": "want [4D 5D] for",
		"4b":  "write 4B or 4", "4/": "not tab", "-4/5": "blow and draw",
		"(4 5]": "closing bracket", "4'b": "not tab", "99999999999999999999": "holes 1 to 10",
	} {
		if got, err := ParseToken(h, token); err == nil || !strings.Contains(err.Error(), say) {
			t.Errorf("ParseToken(%s) = %v, %v; want an error with %q", token, got, err, say)
		}
	}
	// Every action of every layout survives.
	for _, l := range harp.Layouts() {
		h := testHarp(t, "A", l.Name)
		for _, a := range h.Actions(true) {
			got, err := ParseToken(h, Token([]harp.Action{a}))
			if err != nil || len(got) != 1 || got[0] != a {
				t.Errorf("%s: %v became %v, %v", l.Name, a, got, err)
			}
		}
	}
}

func TestTexture(t *testing.T) {
	for want, a := range map[string][]harp.Action{
		"":     nil,
		Single: actions(harp.Blow, 4, 0),
		Double: actions(harp.Draw, 4, 0, 5, 0),
		Split:  actions(harp.Draw, 2, 0, 5, 0),
		Chord:  actions(harp.Draw, 1, 0, 2, 0, 3, 0),
	} {
		if got := Texture(a); got != want {
			t.Errorf("Texture(%v) = %q, want %q", a, got, want)
		}
	}
}

func TestPitchToken(t *testing.T) {
	for _, c := range []struct {
		pitch, tuning float64
		want          string
	}{
		{70.3, 0, "{Bb4+30}"}, {70, 0, "{Bb4}"}, {69.88, -12, "{Bb4}"}, {70.5, 0, "{B4-50}"},
		{70.49, 0, "{Bb4+49}"},
		{60, 35, "{C4-35}"}, {59.6, 0, "{C4-40}"}, {0, 0, "{C-1}"}, {0.2, 0, "{C-1+20}"},
	} {
		got := Document{Harp: testHarp(t, "C", "richter"), SongKey: 7,
			TuningCents: c.tuning}.PitchToken([]float64{c.pitch})
		if got != c.want {
			t.Errorf("PitchToken(%g, %g) = %s, want %s", c.pitch, c.tuning, got, c.want)
		}
		back, err := parsePitches(got, c.tuning)
		if err != nil || len(back) != 1 || math.Abs(back[0]-c.pitch) > 0.0051 {
			t.Errorf("parsePitches(%s, %g) = %v, %v", got, c.tuning, back, err)
		}
	}
}

func TestDoubtful(t *testing.T) {
	alt := func(c float64) []Alternative { return []Alternative{{actions(harp.Blow, 4, 0), c, 0}} }
	one := actions(harp.Draw, 4, 0)
	for _, c := range []struct {
		e    Event
		want bool
	}{
		{Event{Actions: one, Confidence: 0.9}, false},
		{Event{Actions: one, Confidence: 0.896}, false}, // reads 90 %
		{Event{Actions: one, Confidence: 0.89}, true},
		{Event{Actions: one, Confidence: 0.9, Alternatives: alt(0.144)}, false},
		{Event{Actions: one, Confidence: 0.9, Alternatives: alt(0.15)}, true},
		{Event{Confidence: 1}, true},
	} {
		if got := c.e.Doubtful(); got != c.want {
			t.Errorf("Doubtful(%+v) = %v", c.e, got)
		}
	}
}

// The keys that programs reading transcriptions rely on.
func TestJSONKeys(t *testing.T) {
	d := example(t)
	var b bytes.Buffer
	if err := WriteJSON(&b, d); err != nil {
		t.Fatal(err)
	}
	var got struct {
		Events []struct {
			Start, End   float64
			Breath       *string
			Holes, Bends []int
			Pitches      []float64
			Texture      string
			Confidence   *float64
			Nearest      string
		}
		Phrases []struct{ Start, End *float64 }
		BPM     *float64 `json:"bpm"`
		Tuning  *float64 `json:"tuning_cents"`
	}
	if err := json.Unmarshal(b.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	if len(got.Events) != len(d.Events) || len(got.Phrases) != 2 || got.BPM == nil || *got.BPM != 112 ||
		*got.Tuning != -12.3 {
		t.Fatalf("%s", b.String())
	}
	e := got.Events[2]
	if e.Start != 3.1 || e.End != 4.2 || *e.Breath != "draw" || !reflect.DeepEqual(e.Holes, []int{1, 4}) ||
		!reflect.DeepEqual(e.Bends, []int{0, 0}) || !reflect.DeepEqual(e.Pitches, []float64{61.87, 73.88}) ||
		e.Texture != "split" || *e.Confidence != 0.9 {
		t.Errorf("split: %+v", e)
	}
	if e := got.Events[4]; e.Breath != nil || e.Holes == nil || len(e.Holes) != 0 || e.Nearest != "6o" {
		t.Errorf("unplayable: %+v", e)
	}
	// An empty document is valid JSON too, with its bpm unknown.
	b.Reset()
	if err := WriteJSON(&b, Document{Harp: d.Harp}); err != nil || !json.Valid(b.Bytes()) ||
		!strings.Contains(b.String(), `"bpm": null`) {
		t.Errorf("empty document: %v\n%s", err, b.String())
	}
}

func TestCSVReadsBack(t *testing.T) {
	d := example(t)
	var b bytes.Buffer
	if err := WriteCSV(&b, d); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil || len(rows) != len(d.Events)+1 || len(rows[0]) != len(csvColumns) {
		t.Fatalf("%v, %v", rows, err)
	}
	if rows[2][4] != "-3'" || rows[2][18] != "1|3" || rows[2][14] != "-3'' 0.251; 3 0.100; rest 0.020" {
		t.Errorf("row: %q", rows[2])
	}
}

func TestWritersRefuse(t *testing.T) {
	for say, spoil := range map[string]func(*Document){
		"no number":     func(d *Document) { d.Events[0].Pitches[0] = math.NaN() },
		"starts before": func(d *Document) { d.Events[0].Start, d.Events[0].End = 9, 10 },
		"runs from":     func(d *Document) { d.Events[0].End = 1 },
		"has no -5'":    func(d *Document) { d.Events[0].Actions = actions(harp.Draw, 5, 1) },
		"event 2": func(d *Document) {
			d.Events[1].Alternatives[0].Actions = actions(harp.Draw,
				12, 0)
		},
		"phrase 2":             func(d *Document) { d.Phrases[1].Start = 1 },
		"hole 1 blow":          func(d *Document) { d.Harp.Base++ },
		"harp \"sideways\" is": func(d *Document) { d.Harp.Name = "sideways" },
	} {
		d := example(t)
		spoil(&d)
		var b bytes.Buffer
		for _, err := range []error{WriteText(&b, d), WriteJSON(&b, d), WriteCSV(&b, d)} {
			if err == nil || !strings.Contains(err.Error(), say) {
				t.Errorf("error %v, want %q", err, say)
			}
		}
		if b.Len() > 0 {
			t.Errorf("%s: %d bytes written", say, b.Len())
		}
	}
}

// Phrases that meet have no space between them that could be told.
func TestSpaceIsTold(t *testing.T) {
	const head = "blowdraw tab 1\nharp: A\nsong: E\nPhrase\n0:01 0.5 -2\nPhrase\n"
	for text, want := range map[string]string{
		head + "0:01.5 0.5 4\n": "", head + "0:01.549 0.5 4\n": "", head + "0:01.55 0.5 4\n": "\nspace 0.1 s\n",
		head + "0:03 0.5 4\n": "\nspace 1.5 s\n",
	} {
		d, err := Parse(strings.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		var out strings.Builder
		if err := WriteText(&out, d); err != nil {
			t.Fatal(err)
		}
		if got := out.String(); !strings.Contains(got, want) || (strings.Contains(got, "space") != (want != "")) {
			t.Errorf("%q is written as\n%s", text, got)
		}
		if again, err := Parse(strings.NewReader(out.String())); err != nil || len(again.Phrases) != 2 {
			t.Errorf("%v, %d phrases again", err, len(again.Phrases))
		}
	}
}
