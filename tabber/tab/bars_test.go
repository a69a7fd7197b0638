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
	return Document{Meter: meter, Bars: []Bar{{Number: 5, Start: 1, Chord: "I"},
		{Number: 6, Start: 3, Chord: "IV I"}, {Number: 7, Start: 5, Chord: "V7"}, {Number: 8, Start: 7.4}}}
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
	d.Bars, d.SongKey = []Bar{{Number: 1, Start: 0, Chord: "IV"}, {Number: 2, Start: 70, Chord: ""}}, 7
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

// Two events never have one place without a mark, and a bar line that is unsure has its doubt;
// both come back as they were. At 120 beats a minute thirds of a beat are 0.167 s apart.
func TestSharedPlaces(t *testing.T) {
	text := "blowdraw tab 1\nharp: C\nsong: G\nmeter: 12/8\nbar 1 0:00 I ? 63%\nbar 2 0:02 ?\n" +
		"bar 3 0:04 IV\n" +
		"0:00.00 0.04 -3\n0:00.04 0.3 -4\n0:00.50 0.3 4\n0:02.00 0.1 5\n" +
		"0:02.00 0.3 [5 6]\n"
	d := mustParse(t, text)
	var places []string
	for _, e := range d.Events {
		places = append(places, d.EventPlace(e))
	}
	if got := strings.Join(places, " "); got != "1|1 1|1~ 1|2 2|1 2|1~" {
		t.Errorf("places %s", got)
	}
	var b bytes.Buffer
	if err := WriteText(&b, d); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"bar 1  0:00.000  I  ? 63%\n", "bar 2  0:02.000  ? 50%\n", "bar 3  0:04.000  IV\n",
		"0:00.040   0.300  1|1~"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no %q in\n%s", want, b.String())
		}
	}
	again := mustParse(t, b.String())
	if !reflect.DeepEqual(again.Bars, d.Bars) {
		t.Errorf("bars %+v come back as %+v", d.Bars, again.Bars)
	}
	at := mustParse(t, strings.Replace(b.String(), "0:00.040   0.300  1|1~", "1|1~", 1))
	if at.Events[1].Start != 0 {
		t.Errorf("a line of its place alone is at %g s", at.Events[1].Start)
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
	if len(d.Bars) != 4 || d.Bars[1] != (Bar{Number: 4, Start: 3, Chord: "IV V"}) || d.Meter != "12/8" {
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
