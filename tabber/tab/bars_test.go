package tab

import (
	"bytes"
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"
)

// barred has bars of 2 s from 1 s on, one of 2.4 s after them.
func barred(meter string) Document {
	return Document{Meter: meter, Bars: []Bar{{5, 1, "I"}, {6, 3, "IV I"}, {7, 5, "V7"}, {8, 7.4, ""}}}
}

// Worked out by hand.
func TestPlaceAt(t *testing.T) {
	for _, c := range []struct {
		meter string
		t     float64
		want  string
	}{
		{"4/4", 1, "5|1"}, {"4/4", 2.5, "5|4"}, {"4/4", 2.99, "6|1"}, {"4/4", 3.25, "6|1+1/2"},
		{"4/4", 1.166, "5|1+1/3"}, {"4/4", 1.333, "5|1+2/3"}, {"4/4", 1.125, "5|1+1/4"},
		{"4/4", 1.375, "5|1+3/4"},
		{"12/8", 1.2, "5|1+1/3"}, {"12/8", 1.12, "5|1+1/3"}, {"12/8", 1.45, "5|2"},
		// the last bar is as long as the one before
		{"4/4", 5.6, "7|2"}, {"3/4", 1.667, "5|2"}, {"4/4", 8, "8|2"}, {"4/4", 9.8, "9|1"},
		{"4/4", 0.5, "4|4"}, {"", 1.5, "5|2"},
	} {
		p, ok := barred(c.meter).PlaceAt(c.t)
		if !ok || p.String() != c.want {
			t.Errorf("%s at %g s: %v, want %s", c.meter, c.t, p, c.want)
		}
		if back, err := parsePlace(p.String()); err != nil || back != p {
			t.Errorf("%v reads as %v, %v", p, back, err)
		}
		at, ok := barred(c.meter).TimeAt(p)
		if again, _ := barred(c.meter).PlaceAt(at); !ok || again != p || math.Abs(at-c.t) > 0.1 {
			t.Errorf("%v is at %g s, for %g s", p, at, c.t)
		}
	}
	if _, ok := (Document{BPM: 100}).PlaceAt(1); ok {
		t.Error("a place without bar lines")
	}
	if b, ok := (Document{BPM: 90}).BeatAt(2); !ok || b != 3 {
		t.Errorf("2 s at 90 bpm: beat %g", b)
	}
}

func TestChordAt(t *testing.T) {
	for at, want := range map[float64]string{0.5: "", 1: "I", 2.99: "I", 3: "IV", 3.99: "IV", 4: "I", 5: "V7",
		8: ""} {
		if got := barred("4/4").ChordAt(at); got != want {
			t.Errorf("at %g s: %q, want %q", at, got, want)
		}
	}
	d := example(t)
	d.Bars, d.SongKey = []Bar{{1, 0, "IV"}, {2, 70, ""}}, 7
	// D4 and D5 in G: the fifth; over IV, a C chord, the second.
	if got := d.ChordDegrees(d.Events[2]); !reflect.DeepEqual(got, []string{"2", "2"}) {
		t.Errorf("over IV: %v", got)
	}
	for chord, want := range map[string]int{"I": 0, "IV7": 5, "v": 7, "bVII": 10, "bIII": 3} {
		if got, ok := ChordRoot(chord); !ok || got != want {
			t.Errorf("%s: %d, %v", chord, got, ok)
		}
	}
	for _, chord := range []string{"", "VIII", "b", "H", "I+"} {
		if _, ok := ChordRoot(chord); ok {
			t.Errorf("%q is a chord", chord)
		}
	}
}

const barredText = `blowdraw tab 1

harp:      A
layout:    richter
song:      E, second position
tuning:    0.0 cents
meter:     12/8

    time  length  bar      tab  degree

bar 3  0:01.000  I

Phrase 1  0:01.500 to 0:03.900  2.4 s, 4.8 beats
0:01.500   0.500  3|2      -2   1
0:02.667   0.300  3|4+1/3  -3'  b3
bar 4  0:03.000  IV V
0:02.990   0.910  4|1      -4   5

space 2.6 s, 5.2 beats

bar 5  0:05.000

Phrase 2  0:06.500 to 0:07.000  0.5 s, 1.0 beats
0:06.500   0.500  5|4      4    4

bar 6  0:07.000
`

func TestBarsRoundTrip(t *testing.T) {
	d, err := Parse(strings.NewReader(barredText))
	if err != nil {
		t.Fatal(err)
	}
	if len(d.Bars) != 4 || d.Bars[1] != (Bar{4, 3, "IV V"}) || d.Meter != "12/8" {
		t.Errorf("%+v, meter %q", d.Bars, d.Meter)
	}
	var b bytes.Buffer
	if err := WriteText(&b, d); err != nil || b.String() != barredText {
		t.Errorf("%v\n%s", err, b.String())
	}
}

// A line that says only its place gets its time from there; bar lines count, places
// beside a time don't.
func TestPlaceInstead(t *testing.T) {
	text := strings.Replace(barredText, "0:02.667   0.300  3|4+1/3", "3|4+1/3", 1)
	text = strings.Replace(text, "bar 4", "bar 9", 1)
	text = strings.Replace(text, "5|4 ", "1|1 ", 1)
	d, err := Parse(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	if e := d.Events[1]; e.Start != 2.667 {
		t.Errorf("3|4+1/3 is at %g s", e.Start)
	}
	if d.Bars[1].Number != 4 || d.Events[3].Start != 6.5 {
		t.Errorf("%+v, %g s", d.Bars[1], d.Events[3].Start)
	}
}

func TestBarMistakes(t *testing.T) {
	for line, say := range map[string]string{
		"bar 4":              "not a bar line",
		"bar x 0:01":         "not the number of a bar",
		"bar 4 1":            "not a time",
		"bar 4 0:00.500":     "does not start after",
		"bar 4 0:01.500 H":   "not a chord",
		"0:08 0.1 9|0 -2":    "not a place",
		"0:08 0.1 9|1+1/5 4": "not a place",
		"space 1 s, 2":       "not a space",
		"meter: 5/4":         "above the first event",
	} {
		text := strings.Replace(barredText, "bar 6  0:07.000\n", line+"\n", 1)
		d, err := Parse(strings.NewReader(text))
		var errs Errors
		if !errors.As(err, &errs) || len(errs) != 1 || !strings.Contains(errs[0].Text, say) {
			t.Errorf("%s: %v, want %q", line, err, say)
			continue
		}
		var b bytes.Buffer
		if err := WriteText(&b, d); err != nil || !strings.Contains(b.String(), NotUnderstood+line) {
			t.Errorf("%s is lost: %v\n%s", line, err, b.String())
		}
	}
	for say, spoil := range map[string]func(*Document){
		"meter":        func(d *Document) { d.Meter = "5/8" },
		"out of order": func(d *Document) { d.Bars[1].Number = 9 },
		"bar 2":        func(d *Document) { d.Bars[2].Chord = "Q" },
	} {
		d := example(t)
		spoil(&d)
		if err := WriteText(&bytes.Buffer{}, d); err == nil || !strings.Contains(err.Error(), say) {
			t.Errorf("%v, want %q", err, say)
		}
	}
}
