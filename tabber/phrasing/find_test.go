package phrasing

import (
	"bytes"
	"math"
	"slices"
	"testing"

	"blowdraw/onset"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/harp/harptest"
	"blowdraw/tabber/tab"
)

// What is doubtful and much softer than the rest neither begins, ends nor makes
// a phrase; within one, or if it is sure, or loud, it stays.
func TestWithoutStrays(t *testing.T) {
	const sure, doubt = 0.95, 0.5
	const loud, soft = -20.0, -30.0
	for _, c := range []struct {
		name string
		// start, end, confidence and dB of each event
		events [][4]float64
		want   [][2]float64
	}{
		{"none", nil, nil},
		{"a lone one", [][4]float64{{1, 2, sure, loud}, {3, 3.2, doubt, soft}, {4, 5, sure, loud}}, [][2]float64{{1, 2}, {4, 5}}},
		{"before", [][4]float64{{1, 2, sure, loud}, {3.5, 3.9, doubt, soft}, {4, 5, sure, loud}}, [][2]float64{{1, 2}, {4, 5}}},
		{"two after", [][4]float64{{1, 2, sure, loud}, {2.1, 2.4, doubt, soft}, {2.5, 2.8, doubt, soft}, {4, 5, sure, loud}}, [][2]float64{{1, 2}, {4, 5}}},
		{"within", [][4]float64{{1, 2, sure, loud}, {2.1, 2.4, doubt, soft}, {2.5, 4, sure, loud}}, [][2]float64{{1, 4}}},
		{"sure", [][4]float64{{1, 2, sure, loud}, {3, 3.2, sure, soft}}, [][2]float64{{1, 2}, {3, 3.2}}},
		{"loud", [][4]float64{{1, 2, sure, loud}, {3, 3.2, doubt, loud}}, [][2]float64{{1, 2}, {3, 3.2}}},
		{"not measured", [][4]float64{{1, 2, sure, loud}, {3, 3.2, doubt, math.NaN()}}, [][2]float64{{1, 2}, {3, 3.2}}},
		{"filling the space", [][4]float64{{1, 2, sure, loud}, {2, 2.4, doubt, soft}, {2.4, 2.7, doubt, soft}, {2.7, 4, sure, loud}}, [][2]float64{{1, 4}}},
	} {
		var events []Heard
		for _, e := range c.events {
			ev := blow4(e[0], e[1])
			ev.Confidence = e[2]
			events = append(events, Heard{ev, e[3], !math.IsNaN(e[3])})
		}
		var got [][2]float64
		for _, p := range Find(events) {
			got = append(got, [2]float64{p.Start, p.End})
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// A document whose phrases leave out an event reads back the same.
func TestStrayRoundTrip(t *testing.T) {
	h := harptest.Of(t, "A", "richter")
	d := tab.Document{Recording: "x.wav", To: 8, Harp: h, SongKey: 4, Channel: "mix"}
	for _, e := range [][2]float64{{0.5, 0.7}, {1, 2}, {2.1, 2.3}, {3.5, 3.9}, {4, 5}} {
		ev := blow4(e[0], e[1])
		ev.Confidence = 0.95
		d.Events = append(d.Events, ev)
	}
	d.Phrases = []tab.Phrase{{Start: 1, End: 2}, {Start: 4, End: 5}}
	var b bytes.Buffer
	if err := tab.WriteText(&b, d); err != nil {
		t.Fatal(err)
	}
	got, err := tab.Parse(bytes.NewReader(b.Bytes()))
	if err != nil {
		t.Fatalf("%v\n%s", err, &b)
	}
	if !slices.Equal(got.Phrases, d.Phrases) || len(got.Events) != len(d.Events) {
		t.Errorf("phrases %v and %d events\n%s", got.Phrases, len(got.Events), &b)
	}
}

// The usual gap between notes of a phrase is no space; see also onset.Phrases.
func TestPhrasesOfEvents(t *testing.T) {
	gap := onset.Space - pitch.HopSeconds
	events := []Heard{{Event: blow4(1, 2)}, {Event: blow4(2+gap, 3)}, {Event: blow4(3+onset.Space+0.01, 4)}}
	if got := Find(events); len(got) != 2 || got[0].End != 3 {
		t.Errorf("phrases %v", got)
	}
}

// blow4 is blow 4 from start to end.
func blow4(start, end float64) tab.Event {
	return tab.Event{Start: start, End: end, Actions: []harp.Action{{Hole: 4}}}
}
