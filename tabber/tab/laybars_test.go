package tab

import (
	"reflect"
	"testing"
)

// Worked out by hand.
func TestLayBars(t *testing.T) {
	at := func(number int, start float64) Bar { return Bar{Number: number, Start: start} }
	d := Document{
		BPM:  120,
		From: 0.1,
		To:   5,
		Bars: []Bar{{Number: 1, Start: 0.3, Chord: "I"}},
		Form: "twelve-bar",
	}
	beats := []float64{1, 1.5, 2, 2.5, 3, 3.6, 4.2, 4.8, 5.4, 6}
	for _, c := range []struct {
		name  string
		at    float64
		meter string
		beats []float64
		want  []Bar
		bpm   float64
	}{
		{"at the tempo", 0.9, "", nil, []Bar{at(1, 0.9), at(2, 2.9), at(3, 4.9)}, 120},
		{"at the tempo, with bars before", 3.5, "3/4", nil, []Bar{at(-1, 0.5), at(0, 2), at(1, 3.5)},
			120},
		{"at the tempo, before the section", -3, "", nil, []Bar{at(3, 1), at(4, 3)}, 120},
		{"tapped, from the first", 0.9, "", beats, []Bar{at(1, 1), at(2, 3), at(3, 5.4)}, 108},
		{"tapped, with a bar before", 3.7, "3/4", beats, []Bar{at(0, 2), at(1, 3.6), at(2, 5.4)}, 108},
	} {
		got, err := LayBars(d, c.at, c.meter, c.beats)
		if err != nil || !reflect.DeepEqual(got.Bars, c.want) || got.BPM != c.bpm || got.Form != "" {
			t.Errorf("%s: %v %g bpm, %v; want %v %g", c.name, got.Bars, got.BPM, err, c.want, c.bpm)
		}
	}
	laid, _ := LayBars(d, 0.9, "", beats)
	if p, _ := laid.PlaceAt(3.3); p.String() != "2|1+1/2" {
		t.Errorf("halfway between beats of 0.6 s: %v", p)
	}
	if _, err := LayBars(Document{}, 1, "", nil); err == nil {
		t.Error("bars without a tempo")
	}
}
