package harp

import (
	"bufio"
	"math"
	"os"
	"reflect"
	"strconv"
	"strings"
	"testing"
)

func mustHarp(t testing.TB, key, layout string) Harp {
	t.Helper()
	l, err := ParseLayout(layout)
	if err != nil {
		t.Fatal(err)
	}
	h, err := Parse(key, l)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// Source: Table B.1 of the Csound Reference Manual (testdata/pitch/README.md):
// note names and MIDI numbers of 128 notes.
func TestPitchConversionTable(t *testing.T) {
	f, err := os.Open("../../testdata/pitch/pitch-conversion.tsv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	sharps, flats := mustHarp(t, "B", "richter"), mustHarp(t, "Db", "richter") // 5 sharps, 5 flats
	flat := strings.NewReplacer("C#", "Db", "D#", "Eb", "F#", "Gb", "G#", "Ab", "A#", "Bb")
	n := 0
	for sc := bufio.NewScanner(f); sc.Scan(); {
		if strings.HasPrefix(sc.Text(), "#") {
			continue
		}
		col := strings.Split(sc.Text(), "\t")
		midi, err := strconv.Atoi(col[0])
		if err != nil {
			t.Fatal(err)
		}
		if got := sharps.NoteName(midi, sharps.Key()); got != col[1] {
			t.Errorf("%d on a B harp is %s, want %s", midi, got, col[1])
		}
		if got, want := flats.NoteName(midi, flats.Key()), flat.Replace(col[1]); got != want {
			t.Errorf("%d on a Db harp is %s, want %s", midi, got, want)
		}
		pc, err := ParseKey(strings.TrimRight(col[1], "-0123456789"))
		if err != nil || pc != midi%12 {
			t.Errorf("ParseKey(%s) = %d, %v; want %d", col[1], pc, err, midi%12)
		}
		n++
	}
	if n != 128 {
		t.Errorf("table has %d notes", n)
	}
}

// Common practice, no source: what players know about the common layout in
// second position. The notes are looked up on a C harp, song in G.
func TestSecondPosition(t *testing.T) {
	h := mustHarp(t, "C", "richter")
	song := SongKey(h.Key(), 2)
	for _, c := range []struct {
		a            Action
		note, degree string
	}{
		{Action{Draw, 1, 0}, "D4", "5"},
		{Action{Draw, 1, 1}, "Db4", "b5"},
		{Action{Draw, 2, 0}, "G4", "1"},
		{Action{Blow, 3, 0}, "G4", "1"},
		{Action{Draw, 2, 1}, "F#4", "7"},
		{Action{Draw, 2, 2}, "F4", "b7"},
		{Action{Draw, 3, 0}, "B4", "3"},
		{Action{Draw, 3, 1}, "Bb4", "b3"},
		{Action{Draw, 3, 2}, "A4", "2"},
		{Action{Draw, 3, 3}, "Ab4", "b2"},
		{Action{Draw, 4, 0}, "D5", "5"},
		{Action{Draw, 4, 1}, "Db5", "b5"},
		{Action{Draw, 5, 0}, "F5", "b7"},
		{Action{Blow, 6, 0}, "G5", "1"},
		{Action{Blow, 4, 0}, "C5", "4"},
		{Action{Blow, 10, 2}, "Bb6", "b3"},
		{Action{Blow, 6, -3}, "Bb5", "b3"}, // overblow 6
		{Action{Blow, 4, -3}, "Eb5", "b6"}, // overblow 4
		{Action{Blow, 5, -2}, "F#5", "7"},  // overblow 5
		{Action{Draw, 7, -2}, "Db6", "b5"}, // overdraw 7
		{Action{Draw, 10, -4}, "Db7", "b5"},
	} {
		if !h.Plays(c.a) {
			t.Errorf("%v: the harp should play it", c.a)
			continue
		}
		m := h.MIDI(c.a)
		if h.NoteName(m, song) != c.note || Degree(m, song) != c.degree {
			t.Errorf("%v is %s, degree %s; want %s, %s",
				c.a, h.NoteName(m, song), Degree(m, song), c.note, c.degree)
		}
	}
	if got := Interval(h.Offset(Action{Draw, 4, 0}) - h.Offset(Action{Draw, 1, 0})); got != "octave" {
		t.Errorf("draw 1 and 4 are a %s, want octave", got)
	}
	for _, a := range []Action{{Draw, 5, 1}, {Blow, 7, 1}, {Draw, 7, 1}, {Blow, 1, 1}, {Draw, 2, 3},
		{Blow, 7, -1}, {Draw, 6, -1}, {Blow, 0, 0}, {Blow, 11, 0}} {
		if h.Plays(a) {
			t.Errorf("%v: no harp plays it", a)
		}
	}
}

// Common practice, no source: the reach of the bends on the common layout.
func TestBendsOfCommonLayout(t *testing.T) {
	h := mustHarp(t, "A", "richter")
	draw := [10]int{1, 2, 3, 1, 0, 1, 0, 0, 0, 0}
	blow := [10]int{0, 0, 0, 0, 0, 0, 0, 1, 1, 2}
	for hole := 1; hole <= 10; hole++ {
		if got := h.MaxBend(Draw, hole); got != draw[hole-1] {
			t.Errorf("draw %d bends %d semitones, want %d", hole, got, draw[hole-1])
		}
		if got := h.MaxBend(Blow, hole); got != blow[hole-1] {
			t.Errorf("blow %d bends %d semitones, want %d", hole, got, blow[hole-1])
		}
	}
	// Holes 1 to 6 have overblows, 7 to 10 overdraws.
	for hole := 1; hole <= 10; hole++ {
		_, over := h.Layout.Overbend(Blow, hole)
		_, under := h.Layout.Overbend(Draw, hole)
		if over != (hole <= 6) || under != (hole > 6) {
			t.Errorf("hole %d: overblow %v, overdraw %v", hole, over, under)
		}
	}
}

// Common practice, no source: with bends and overbends every semitone of three
// octaves can be played on the common layout, and which are missing without
// overbends.
func TestChromaticWithOverbends(t *testing.T) {
	h := mustHarp(t, "C", "richter")
	var gaps []string
	for m := h.Base; m <= h.Base+36; m++ {
		if len(h.At(m, true)) == 0 {
			gaps = append(gaps, h.NoteName(m, 7))
		}
	}
	if gaps != nil {
		t.Errorf("missing with overbends: %v", gaps)
	}
	gaps = nil
	for m := h.Base; m <= h.Base+36; m++ {
		if len(h.At(m, false)) == 0 {
			gaps = append(gaps, h.NoteName(m, 7))
		}
	}
	if want := []string{"Eb4", "Eb5", "F#5", "Bb5", "Db6", "Ab6"}; !reflect.DeepEqual(gaps, want) {
		t.Errorf("missing without overbends: %v, want %v", gaps, want)
	}
}

func TestAt(t *testing.T) {
	h := mustHarp(t, "C", "richter")
	if got, want := h.At(67, false), []Action{{Draw, 2, 0}, {Blow, 3, 0}}; !reflect.DeepEqual(got, want) {
		t.Errorf("At(G4) = %v, want %v", got, want)
	}
	if got := h.At(63, false); got != nil {
		t.Errorf("At(Eb4) without overbends = %v, want none", got)
	}
	for _, a := range h.Actions(true) {
		found := false
		for _, b := range h.At(h.MIDI(a), true) {
			found = found || a == b
		}
		if !found {
			t.Errorf("At(MIDI(%v)) does not hold it", a)
		}
	}
}

// Common practice, no source: the range of the usual harps and the low ones.
func TestParse(t *testing.T) {
	for _, c := range []struct {
		in, name string
		base     int
	}{
		{"G", "G", 55}, {"Ab", "Ab", 56}, {"A", "A", 57}, {"Bb", "Bb", 58}, {"b", "B", 59}, {"C", "C", 60},
		{"C#", "Db", 61}, {"D", "D", 62}, {"Eb", "Eb", 63}, {"E", "E", 64}, {"F", "F", 65}, {"f#", "F#", 66},
		{"low F", "low F", 53}, {"low Eb", "low Eb", 51}, {"Low  D", "low D", 50}, {"high G", "high G", 67},
		{"low low F", "double low F", 41}, {"double low F", "double low F", 41}, {"B♭", "Bb", 58},
		{"E flat", "Eb", 63},
	} {
		h, err := Parse(c.in, layouts[0])
		if err != nil || h.Name != c.name || h.Base != c.base {
			t.Errorf("Parse(%q) = %q, %d, %v; want %q, %d", c.in, h.Name, h.Base, err, c.name, c.base)
		}
		again, err := Parse(h.Name, h.Layout)
		if err != nil || !reflect.DeepEqual(again, h) {
			t.Errorf("Parse(%q) = %v, %v; want %v", h.Name, again, err, h)
		}
	}
	for _, bad := range []string{"", "H", "low", "low low", "C7", "very low F", "Am", " ", "#"} {
		if h, err := Parse(bad, layouts[0]); err == nil {
			t.Errorf("Parse(%q) = %v, want an error", bad, h)
		} else if !strings.Contains(err.Error(), "F#") {
			t.Errorf("Parse(%q): %v; should list the keys", bad, err)
		}
	}
	if _, err := Parse("C", Layout{}); err == nil {
		t.Error("Parse with no layout: want an error")
	}
}

// Common practice, no source: which harp for which key.
func TestPositions(t *testing.T) {
	for _, c := range []struct {
		harp string
		pos  int
		song string
	}{
		{"D", 2, "A"}, {"C", 1, "C"}, {"C", 2, "G"}, {"C", 3, "D"}, {"A", 2, "E"}, {"Bb", 2, "F"},
		{"C", 4, "A"},
		{"C", 5, "E"}, {"C", 12, "F"}, {"F", 3, "G"}, {"C", 11, "Bb"},
	} {
		harp, _ := ParseKey(c.harp)
		song, _ := ParseKey(c.song)
		if got := Position(harp, song); got != c.pos {
			t.Errorf("%s harp in %s: position %d, want %d", c.harp, c.song, got, c.pos)
		}
		if got := SongKey(harp, c.pos); got != song {
			t.Errorf("%s harp in position %d plays in %s, want %s", c.harp, c.pos, KeyName(got), c.song)
		}
	}
	for h := range 12 {
		for p := 1; p <= 12; p++ {
			if got := Position(h, SongKey(h, p)); got != p {
				t.Errorf("Position(%d, SongKey(%d, %d)) = %d", h, h, p, got)
			}
		}
	}
}

// Names of intervals: standard music theory; compound names from memory.
func TestInterval(t *testing.T) {
	for n, want := range map[int]string{
		0: "unison", 3: "minor third", 4: "major third", 7: "fifth", 10: "minor seventh",
		-10: "minor seventh",
		12:  "octave", 14: "major ninth", 15: "minor tenth", 17: "eleventh", 19: "twelfth", 24: "two octaves",
		31: "two octaves and a fifth", 36: "three octaves", 48: "4 octaves",
	} {
		if got := Interval(n); got != want {
			t.Errorf("Interval(%d) = %q, want %q", n, got, want)
		}
	}
}

// The just intervals in cents are those of the table of intervals in
// Helmholtz, On the Sensations of Tone, tr. Ellis, Appendix XX (from memory):
// 9/8 204, 5/4 386, 3/2 702, 7/4 969, and 27/16 906, 15/8 1088, 21/16 471 made
// of them.
func TestJustIntonation(t *testing.T) {
	h := mustHarp(t, "G", "richter")
	known := Temperaments()
	equal, just, half := known[0], known[1], known[2]
	for _, c := range []struct {
		a    Action
		want float64 // cents above hole 1 blow, less whole octaves
	}{
		{Action{Blow, 1, 0}, 0}, {Action{Blow, 5, 0}, 386.31}, {Action{Blow, 9, 0}, 701.96},
		{Action{Draw, 2, 0}, 701.96}, {Action{Draw, 7, 0}, 1088.27}, {Action{Draw, 1, 0}, 203.91},
		{Action{Draw, 8, 0}, 203.91},
		{Action{Draw, 5, 0}, 470.78}, {Action{Draw, 9, 0}, 470.78}, {Action{Draw, 6, 0}, 905.87},
		{Action{Draw, 10, 0}, 905.87},
	} {
		dev := c.want - 100*float64(PitchClass(h.Offset(c.a)))
		if got := just.Cents(h, c.a); math.Abs(got-dev) > 0.006 {
			t.Errorf("just %v: %.3f cents, want %.2f", c.a, got, dev)
		}
		if got := half.Cents(h, c.a); math.Abs(got-dev/2) > 0.006 {
			t.Errorf("compromise %v: %.3f cents, want %.2f", c.a, got, dev/2)
		}
		if got := equal.Cents(h, c.a); got != 0 {
			t.Errorf("equal %v: %.3f cents, want 0", c.a, got)
		}
	}
	if got := just.Cents(h, Action{Draw, 3, 1}); got != 0 {
		t.Errorf("bend: %.3f cents, want 0", got)
	}
	// No reed of any built-in layout is further off than the natural seventh.
	for _, l := range Layouts() {
		h := Harp{Layout: l, Base: 60}
		for _, a := range h.Actions(true) {
			if c := just.Cents(h, a); math.Abs(c) > 32 {
				t.Errorf("%s %v: %.1f cents", l.Name, a, c)
			}
		}
	}
}

// Source: Kostka & Payne, "Tonal Harmony", chapter 1, from memory, not looked up: the
// major scale has its half steps between 3 and 4 and between 7 and 1; natural minor
// lowers 3, 6 and 7. In jazz and blues the lowered fifth is named b5, the lowered
// second b2.
func TestDegreesOfScales(t *testing.T) {
	const whole, half = 2, 1
	for _, scale := range []struct {
		steps []int
		names string
	}{
		{[]int{whole, whole, half, whole, whole, whole, half}, "1 2 3 4 5 6 7 1"},
		{[]int{whole, half, whole, whole, half, whole, whole}, "1 2 b3 4 5 b6 b7 1"},
	} {
		for key := range 12 {
			note := 60 + key
			names := []string{Degree(note, key)}
			for _, s := range scale.steps {
				note += s
				names = append(names, Degree(note, key))
			}
			if got := strings.Join(names, " "); got != scale.names {
				t.Errorf("key %d: %s, want %s", key, got, scale.names)
			}
		}
	}
}

// A harp is named so that its name makes the same harp.
func FuzzParse(f *testing.F) {
	for _, s := range []string{"C", "low F", "high G", "B flat", "f\u266f", "Ebb"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if pc, err := ParseKey(s); err == nil {
			if back, err := ParseKey(KeyName(pc)); back != pc || err != nil {
				t.Errorf("key %q is %d, named %s, which is %d (%v)", s, pc, KeyName(pc), back, err)
			}
		}
		h, err := Parse(s, Layouts()[0])
		if err != nil {
			return
		}
		if back, err := Parse(h.Name, h.Layout); err != nil || back.Base != h.Base || back.Name != h.Name {
			t.Errorf("%q is %+v, whose name reads as %+v (%v)", s, h, back, err)
		}
	})
}

func TestPositionNames(t *testing.T) {
	for position := 1; position <= 12; position++ {
		name := PositionName(position)
		if got, ok := ParsePosition(strings.ToUpper(name)); !ok || got != position {
			t.Errorf("%q is position %d, %v; want %d", name, got, ok, position)
		}
	}
	for _, word := range []string{"", "zeroth", "13", "2"} {
		if got, ok := ParsePosition(word); ok {
			t.Errorf("%q is position %d", word, got)
		}
	}
}
