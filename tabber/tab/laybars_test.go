package tab

import (
	"reflect"
	"testing"
)

// Worked out by hand.
func TestLayBars(t *testing.T) {
	d := Document{BPM: 120, From: 0.1, To: 5, Bars: []Bar{{Number: 1, Start: 0.3, Chord: "I"}}, Form: "twelve-bar"}
	beats := []float64{1, 1.5, 2, 2.5, 3, 3.6, 4.2, 4.8, 5.4, 6}
	for _, c := range []struct {
		name  string
		at    float64
		meter string
		beats []float64
		want  []Bar
		bpm   float64
	}{
		{"at the tempo", 0.9, "", nil, []Bar{{Number: 1, Start: 0.9, Chord: ""}, {Number: 2, Start: 2.9, Chord: ""}, {Number: 3, Start: 4.9, Chord: ""}}, 120},
		{"at the tempo, with bars before", 3.5, "3/4", nil, []Bar{{Number: -1, Start: 0.5, Chord: ""}, {Number: 0, Start: 2, Chord: ""}, {Number: 1, Start: 3.5, Chord: ""}},
			120},
		{"at the tempo, before the section", -3, "", nil, []Bar{{Number: 3, Start: 1, Chord: ""}, {Number: 4, Start: 3, Chord: ""}}, 120},
		{"tapped, from the first", 0.9, "", beats, []Bar{{Number: 1, Start: 1, Chord: ""}, {Number: 2, Start: 3, Chord: ""}, {Number: 3, Start: 5.4, Chord: ""}}, 108},
		{"tapped, with a bar before", 3.7, "3/4", beats, []Bar{{Number: 0, Start: 2, Chord: ""}, {Number: 1, Start: 3.6, Chord: ""}, {Number: 2, Start: 5.4, Chord: ""}}, 108},
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
