package truth

import (
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

func TestReadDocument(t *testing.T) {
	path := filepath.Join(t.TempDir(), "clip.truth.json")
	write := func(text string) {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write(`{"harp": "D", "tier": "held", "audio": "clip.wav", "offset": -12.5, "bpm": null,
		"phrases": [[0.5, 2]], "events": [
		{"start": 0.5, "end": 1, "breath": "draw", "holes": [3], "bends": [1.2], "midi": [71.8]},
		{"start": 1, "end": 2, "breath": "blow", "holes": [1, 4], "bends": [0, 0], "midi": [62, 74]}]}`)
	d, tier, err := ReadDocument(path)
	if err != nil {
		t.Fatal(err)
	}
	h, err := harp.Parse("D", harp.Layouts()[0])
	if err != nil {
		t.Fatal(err)
	}
	want := tab.Document{
		Recording: "clip.wav", Harp: h, SongKey: 9, TuningCents: -12.5,
		Phrases: []tab.Phrase{{Start: 0.5, End: 2}},
		Events: []tab.Event{
			{Start: 0.5, End: 1, Actions: []harp.Action{{Breath: harp.Draw, Hole: 3, Bend: 1}},
				Pitches: []float64{71.8}, Texture: tab.Single},
			{Start: 1, End: 2, Actions: []harp.Action{{Hole: 1}, {Hole: 4}}, Pitches: []float64{62, 74},
				Texture: tab.Split},
		},
	}
	if tier != "held" || !reflect.DeepEqual(d, want) {
		t.Errorf("tier %q,\n%+v, want\n%+v", tier, d, want)
	}
	for text, say := range map[string]string{
		`{"harp": `:                                 "unexpected end",
		`{"harp": "H"}`:                             `"H" is not known`,
		`{"harp": "C", "layout": "spiral"}`:         "spiral",
		`{"harp": "C", "events": [{"holes": [1]}]}`: "event 1 has 0 bends for 1 holes",
	} {
		write(text)
		if _, _, err := ReadDocument(path); err == nil || !strings.Contains(err.Error(), say) ||
			!strings.Contains(err.Error(), path) {
			t.Errorf("%s: %v, want %q and the file in the error", text, err, say)
		}
	}
}

// What is written reads back the same, and has no keys of what is not known.
func TestWriteReadsBack(t *testing.T) {
	no, db, bpm := false, -3.5, 96.5
	want := File{
		Harp: "A", Layout: "country", Position: 1, Temperament: "just", Offset: 12.5, BPM: &bpm, Seconds: 20,
		Tier:   "real",
		Source: "bank", Audio: "a.wav", Phrases: [][2]float64{{1, 2}}, Unheard: [][2]float64{{3, 4}}, HarpDB: &db,
		Parts: []Part{{"voice", 0, 5}},
		Events: []Event{
			{Start: 1, End: 1.5, Breath: "draw", Holes: []int{2, 3}, Bends: []float64{0, 0}, MIDI: []float64{64, 67},
				Sure: &no, Or: "-2"},
			{Start: 1.5, End: 2, Breath: "blow", Holes: []int{4}, Bends: []float64{0}, MIDI: []float64{69}},
		},
	}
	path := Of(t.TempDir(), "a")
	if err := Write(path, want); err != nil {
		t.Fatal(err)
	}
	got, err := Read(path)
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("%+v, %v, want %+v", got, err, want)
	}
	if got.Events[0].Agreed() || !got.Events[1].Agreed() {
		t.Error("agreed on what is not sure, or not on what nothing is said of")
	}
	if Name(path) != "a" {
		t.Errorf("the clip's name is %q", Name(path))
	}
	b, err := os.ReadFile(path)
	if err != nil || strings.Count(string(b), `"sure"`) != 1 || strings.Contains(string(b), "bar0") {
		t.Errorf("%v, %s", err, b)
	}
}

// The level is what the truth states, or what its tier means.
func TestLevel(t *testing.T) {
	db := 1.5
	for _, c := range []struct {
		f     File
		db    float64
		known bool
	}{{File{Tier: "record"}, 3, true}, {File{Tier: "record", HarpDB: &db}, 1.5, true},
		{File{Tier: "dry"}, 0, false}} {
		if db, known := c.f.Level(); db != c.db || known != c.known {
			t.Errorf("%+v: %g, %v", c.f, db, known)
		}
	}
}

func TestIn(t *testing.T) {
	dir := t.TempDir()
	if _, err := In(dir); err == nil || !strings.Contains(err.Error(), dir) {
		t.Errorf("an empty folder: %v", err)
	}
	for _, name := range []string{"b", "a"} {
		if err := Write(Of(dir, name), File{Harp: "C", Layout: "richter"}); err != nil {
			t.Fatal(err)
		}
	}
	got, err := In(dir)
	if want := []string{Of(dir, "a"), Of(dir, "b")}; err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("%v, %v, want %v", got, err, want)
	}
}
