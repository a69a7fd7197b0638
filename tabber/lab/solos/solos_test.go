package solos

import (
	"fmt"
	"reflect"
	"slices"
	"testing"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

func soloOf(t testing.TB, seed uint64, choruses int, p Player) tab.Document {
	t.Helper()
	d, err := Solo(seed, Kit{Harp: "C", Position: 2, BPM: 96, Choruses: choruses}, p)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// A solo is a document that can be written: on its form's bars, in order of time, every event
// in a phrase. The chords are those of the twelve-bar blues (common practice, no source).
func TestSolo(t *testing.T) {
	d := soloOf(t, 3, 2, Player{})
	if len(d.Bars) != 24 || d.SongKey != 7 || len(d.Events) < 40 {
		t.Fatalf("%d bars in %d, %d events, want 24 bars in G and 40 or more",
			len(d.Bars), d.SongKey, len(d.Events))
	}
	for i, chord := range map[int]string{0: "I", 4: "IV", 8: "V", 9: "IV", 11: "V", 12: "I", 20: "V"} {
		if d.Bars[i].Chord != chord {
			t.Errorf("bar %d is on %s, want %s", i+1, d.Bars[i].Chord, chord)
		}
	}
	if at := d.Bars[1].Start - d.Bars[0].Start; at != 2.5 {
		t.Errorf("a bar at 96 bpm lasts %g s, want 2.5", at)
	}
	for i, e := range d.Events {
		if e.End <= e.Start || i > 0 && e.Start < d.Events[i-1].Start {
			t.Errorf("event %d from %g to %g is out of order", i, e.Start, e.End)
		}
		within := func(p tab.Phrase) bool { return e.Start >= p.Start && e.End <= p.End }
		if !slices.ContainsFunc(d.Phrases, within) {
			t.Errorf("event %d is in no phrase", i)
		}
	}
	if !reflect.DeepEqual(d, soloOf(t, 3, 2, Player{})) {
		t.Error("the same seed gives another solo")
	}
	if reflect.DeepEqual(d.Events, soloOf(t, 4, 2, Player{}).Events) {
		t.Error("another seed gives the same solo")
	}
	if _, err := Solo(3, Kit{Harp: "H", Position: 2, BPM: 96, Choruses: 1}, Player{}); err == nil {
		t.Error("no such harp: no error")
	}
}

// shareOver is the share of the events over a chord that are of a degree.
func shareOver(d tab.Document, chord, degree string) float64 {
	n, of := 0.0, 0.0
	for _, e := range d.Events {
		bar := int((e.Start - d.Bars[0].Start + 0.02) / (barBeats * 60 / d.BPM))
		if d.Bars[bar].Chord != chord {
			continue
		}
		if n++; harp.Degree(d.Harp.MIDI(e.Actions[0]), d.SongKey) == degree {
			of++
		}
	}
	return of / n
}

// What is planted is there: a degree over its chord and not over others, double stops in their
// bars only, doubt on every event.
func TestPlanted(t *testing.T) {
	random := soloOf(t, 5, 8, Player{})
	lean := soloOf(t, 5, 8, Player{Lean: []Lean{{Chord: "IV", Degree: "b7", Times: 12}}})
	if by := shareOver(lean, "IV", "b7") - shareOver(random, "IV", "b7"); by < 0.2 {
		t.Errorf("b7 over IV by %.2f more than at random, want 0.2 at least", by)
	}
	if by := shareOver(lean, "I", "b7") - shareOver(random, "I", "b7"); by > 0.15 {
		t.Errorf("b7 over I, where it was not planted, by %.2f more", by)
	}
	rough := soloOf(t, 5, 8, Player{Rough: []Rough{{Bars: []int{9, 10}, Chance: 0.9}}})
	there := 0
	for _, e := range rough.Events {
		bar := int((e.Start-start+0.02)/2.5) % 12
		if len(e.Actions) > 1 {
			if there++; bar != 8 && bar != 9 {
				t.Errorf("%s in bar %d", tab.Token(e.Actions), bar+1)
			}
		}
	}
	if there < 20 {
		t.Errorf("%d double stops, want 20 at least", there)
	}
	for _, e := range soloOf(t, 5, 1, Player{Doubt: 0.25}).Events {
		if e.Confidence != 0.75 || len(e.Alternatives) != 1 {
			t.Fatalf("%+v is not in doubt by 0.25", e)
		}
	}
}

// A move comes in its bar of each chorus, on the one.
func ExampleSolo() {
	d, err := Solo(1, Kit{Harp: "A", Position: 2, BPM: 120, Choruses: 2}, Player{
		Moves: []Move{{Notes: []string{"-4", "-3'", "-2"}, Beats: []float64{0, 1, 2}, Bars: []int{11}, Chance: 1}},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, bar := range []int{11, 23} {
		from := d.Bars[bar-1].Start
		for _, e := range d.Events {
			if beat := (e.Start - from) / 0.5; beat > -0.1 && beat < 3.9 {
				fmt.Printf("bar %d beat %.0f: %s\n", bar, 1+beat, tab.Token(e.Actions))
			}
		}
	}
	// Output:
	// bar 11 beat 1: -4
	// bar 11 beat 2: -3'
	// bar 11 beat 3: -2
	// bar 23 beat 1: -4
	// bar 23 beat 2: -3'
	// bar 23 beat 3: -2
}
