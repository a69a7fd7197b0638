package score

import (
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

func TestReadTruth(t *testing.T) {
	path := filepath.Join(t.TempDir(), "clip.truth.json")
	write := func(text string) {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write(`{"harp": "D", "tier": "held", "audio": "clip.wav", "offset": -12.5, "bpm": null, "phrases": [[0.5, 2]], "events": [
		{"start": 0.5, "end": 1, "breath": "draw", "holes": [3], "bends": [1.2], "midi": [71.8]},
		{"start": 1, "end": 2, "breath": "blow", "holes": [1, 4], "bends": [0, 0], "midi": [62, 74]}]}`)
	d, tier, err := ReadTruth(path)
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
			{Start: 0.5, End: 1, Actions: []harp.Action{{Breath: harp.Draw, Hole: 3, Bend: 1}}, Pitches: []float64{71.8}, Texture: tab.Single},
			{Start: 1, End: 2, Actions: []harp.Action{{Hole: 1}, {Hole: 4}}, Pitches: []float64{62, 74}, Texture: tab.Split},
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
		if _, _, err := ReadTruth(path); err == nil || !strings.Contains(err.Error(), say) || !strings.Contains(err.Error(), path) {
			t.Errorf("%s: %v, want %q and the file in the error", text, err, say)
		}
	}
}
