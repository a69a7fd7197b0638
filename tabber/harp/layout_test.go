package harp

import (
	"reflect"
	"strings"
	"testing"
)

// Common practice, no source: what each tuning changes.
func TestLayouts(t *testing.T) {
	for _, c := range []struct {
		layout string
		a      Action
		note   string // on a C harp
	}{
		{"richter", Action{Draw, 5, 0}, "F5"}, {"richter", Action{Blow, 10, 0}, "C7"},
		{"richter", Action{Draw, 10, 0}, "A6"},
		{"country", Action{Draw, 5, 0}, "F#5"}, {"country", Action{Draw, 5, 1}, "F5"},
		{"raised-blow-3", Action{Blow, 3, 0}, "A4"}, {"raised-blow-3", Action{Draw, 3, 1}, "Bb4"},
		{"natural-minor", Action{Blow, 2, 0}, "Eb4"}, {"natural-minor", Action{Draw, 3, 0}, "Bb4"},
		{"harmonic-minor", Action{Draw, 6, 0}, "Ab5"}, {"harmonic-minor", Action{Draw, 7, 0}, "B5"},
	} {
		h := mustHarp(t, "C", c.layout)
		if !h.Plays(c.a) {
			t.Errorf("%s: %v should be playable", c.layout, c.a)
		} else if got := h.NoteName(h.MIDI(c.a), 7); got != c.note {
			t.Errorf("%s: %v is %s, want %s", c.layout, c.a, got, c.note)
		}
	}
	for _, l := range Layouts() {
		if err := l.check(); err != nil || l.Holes() != 10 || len(l.Draw) != 10 || l.Blow[0] != 0 {
			t.Errorf("%s: %v", l.Name, err)
		}
		l.Blow[0] = 99 // must not reach the built-in ones
	}
	if layouts[0].Blow[0] != 0 {
		t.Error("Layouts hands out the built-in rows themselves")
	}
	if _, err := ParseLayout("spiral"); err == nil || !strings.Contains(err.Error(), "raised-blow-3") {
		t.Errorf("ParseLayout(spiral): %v; should list the names", err)
	}
}

func TestReadLayout(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"C4 E G C E G C E G C\nD G B D F A B D F A\n", "richter"},
		{"\ufeffC4 E G C E G C E G C\r\nD G B D F A B D F A\r\n", "richter"},
		{"# comment\n\nblow: c4, e4, g4, c5, e5, g5, c6, e6, g6, c7 # low to high\n" +
			"Draw: d4,g4,b4,d5,f5,a5,b5,d6,f6,a6", "richter"},
		{"0 4 7 12 16 19 24 28 31 36\n2 7 11 14 18 21 23 26 29 33", "country"},
		{"Bb D F Bb D F Bb D F Bb\nC F A C Eb G A C Eb G", "richter"},
		{"G3 B D G B D G B D G\nA D F# A C E F# A C E", "richter"},
		{"D F A D F A D F A D\nE A C# E G Bb C# E G Bb", "harmonic-minor"},
	} {
		l, err := ReadLayout(strings.NewReader(c.in))
		want, _ := ParseLayout(c.want)
		if err != nil || !l.Equal(want) || l.Name != "custom" {
			t.Errorf("ReadLayout(%q) = %v, %v; want %v", c.in, l, err, want)
		}
	}
	// A draw note below hole 1 blow, repeated notes, twelve holes (solo tuning).
	l, err := ReadLayout(strings.NewReader("name: solo\nC4 E G C C E G C C E G C\nB3 F A B D F A B D F A B"))
	want := Layout{
		Name: "solo",
		Blow: []int{0, 4, 7, 12, 12, 16, 19, 24, 24, 28, 31, 36},
		Draw: []int{-1, 5, 9, 11, 14, 17, 21, 23, 26, 29, 33, 35},
	}
	if err != nil || !reflect.DeepEqual(l, want) {
		t.Errorf("solo: %v, %v", l, err)
	}
	for in, say := range map[string]string{
		"":                              "0 rows",
		"C E G":                         "1 rows",
		"C E G\nD G":                    "2 notes for 3 holes",
		"C E X\nD G B":                  `hole 3: note "X"`,
		"C E 7\nD G B":                  "both note names",
		"0 4 7\nD G B":                  "both alike",
		"C E G\n2 7 11":                 "both alike",
		"1 4 7\n2 7 11":                 "hole 1",
		"C4 E6 G6\nD4 G6 B6":            "apart",
		"C4 E4 G4\nD4 G4 B6":            "apart",
		"draw: D G B\nblow: C E G":      "want the blow row",
		"C E G\nD G B\nE A C":           "third row",
		"name: two words\nC E\nD G":     "one word",
		"C99999999999999999999 E\nD G":  "octave",
		"RIFF\x24\x00WAVEfmt ":          "not a layout",
		"C4 E\xff G\nD G B":             "not a layout",
		strings.Repeat("C E G\n", 9999): "not a layout",
		strings.Repeat("y", 9999):       `note "yyyyyyyyyyyyyyyyyyyy…"`,
	} {
		if l, err := ReadLayout(strings.NewReader(in)); err == nil || !strings.Contains(err.Error(), say) {
			t.Errorf("ReadLayout(%q) = %v, %v; want an error with %q", in, l, err, say)
		}
	}
}

func FuzzReadLayout(f *testing.F) {
	f.Add("C4 E G\nD G B\n")
	f.Add("name: x\nblow: 0 4 7\ndraw: 2 7 11 # eh\n")
	f.Fuzz(func(t *testing.T, s string) {
		l, err := ReadLayout(strings.NewReader(s))
		if err != nil {
			return
		}
		if len(l.Blow) != len(l.Draw) || len(l.Blow) == 0 || l.Blow[0] != 0 {
			t.Errorf("%q: %v", s, l)
		}
		Harp{Layout: l, Base: 60}.Actions(true)
	})
}
