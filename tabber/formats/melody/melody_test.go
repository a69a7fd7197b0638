package melody

import (
	"strings"
	"testing"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/harp/harptest"
	"blowdraw/tabber/tab"
)

func harpOf(t *testing.T, key string) harp.Harp { return harptest.Of(t, key, "richter") }

func tokens(d tab.Document) string {
	var out []string
	for _, e := range d.Events {
		s := tab.Token(e.Actions)
		if s == "" {
			s = d.PitchToken(e.Pitches)
		}
		out = append(out, s)
	}
	return strings.Join(out, " ")
}

// The C major scale from middle C on a C harp: the low octave lacks F and A as
// natural notes, which are bends (common practice, no source).
func TestTab(t *testing.T) {
	h := harpOf(t, "C")
	for _, c := range []struct {
		name  string
		notes []Note
		want  string
		flags int
	}{
		{"scale", []Note{{0, 1, 72, ""}, {1, 2, 74, ""}, {2, 3, 76, ""}, {3, 4, 77, ""}, {4, 5, 79, ""},
			{5, 6, 81, ""}, {6, 7, 83, ""}, {7, 8, 84, ""}}, "4 -4 5 -5 6 -6 -7 7", 0},
		{"low bends", []Note{{0, 1, 65, ""}, {1, 2, 69, ""}, {2, 3, 67, ""}}, "-2'' -3'' -2", 0},
		{"together", []Note{{0, 1, 60, ""}, {0.01, 1, 64, ""}, {1, 2, 74, ""}, {1, 2, 77, ""}},
			"[1 2] [-4 -5]", 0},
		{"overlapping", []Note{{0, 1.3, 72, ""}, {1, 2, 74, ""}}, "4 -4", 0},
		{"tab under it", []Note{{0, 1, 67, "3"}, {1, 2, 67, "-2?"}, {2, 3, 67, "5"}, {3, 4, 67, "la"}},
			"3 -2 -2 -2", 0},
		{"not on the harp", []Note{{0, 1, 72, ""}, {1, 2, 73, ""}, {2, 3, 74, ""}}, "4 -4' -4", 0},
		{"an octave higher", []Note{{0, 1, 72, ""}, {1, 2, 75, ""}, {2, 3, 72, ""}}, "7 8' 7", 0},
		{"nowhere", []Note{{0, 1, 60, ""}, {1, 2, 63, ""}, {2, 3, 96, ""}}, "1 {Eb4} 10", 1},
	} {
		d, flags := Melody{BPM: 100}.Tab(Part{Notes: c.notes}, h, 0, false)
		if tokens(d) != c.want || len(flags) != c.flags || d.BPM != 100 || len(d.Phrases) != 1 {
			t.Errorf("%s: %s, %d flags, %d phrases; want %s, %d, 1",
				c.name, tokens(d), len(flags), len(d.Phrases), c.want, c.flags)
		}
		for i := 1; i < len(d.Events); i++ {
			if d.Events[i-1].End > d.Events[i].Start {
				t.Errorf("%s: event %d sounds into the next", c.name, i-1)
			}
		}
	}
}

// A melody too high for the harp moves down, by whole octaves.
func TestOctave(t *testing.T) {
	h := harpOf(t, "C")
	d, flags := Melody{}.Tab(Part{Notes: []Note{{0, 1, 108, ""}, {1, 2, 110, ""}, {2, 3, 112, ""}}}, h, 0,
		false)
	if got := tokens(d); len(flags) != 0 || d.Sounding(d.Events[0])[0]%12 != 0 ||
		d.Sounding(d.Events[0])[0] == 108 {
		t.Errorf("%s, %d flags", got, len(flags))
	}
}
