package phrasing

import (
	"math"
	"testing"

	"blowdraw/tabber/harp/harptest"
	"blowdraw/tabber/tab"
)

func document(t *testing.T, events ...tab.Event) tab.Document {
	t.Helper()
	h := harptest.Of(t, "C", "richter")
	return tab.Document{Harp: h, To: 10, Events: events}
}

func event(t *testing.T, start, end float64, token string) tab.Event {
	t.Helper()
	d := document(t)
	a, err := tab.ParseToken(d.Harp, token)
	if err != nil {
		t.Fatal(err)
	}
	return tab.Event{Start: start, End: end, Actions: a}
}

func near(a, b float64) bool { return math.Abs(a-b) < 1e-9 }

// Counted by hand. On a C harp -1 is D4 (62), 4 is C5 (72) and -4 is D5 (74).
func TestOf(t *testing.T) {
	d := document(t,
		event(t, 1, 1.5, "4"), event(t, 1.4, 2, "[-1 -4]"), event(t, 2.2, 2.6, "-1"),
		event(t, 3, 3.2, "2"), // in the space
		event(t, 5, 7, "-3''"))
	d.Phrases = []tab.Phrase{{Start: 1, End: 2.5}, {Start: 5, End: 7}}
	got := Of(d)
	if len(got) != 2 {
		t.Fatalf("%d phrases, want 2", len(got))
	}
	a, b := got[0], got[1]
	if a.Events != 3 || !near(a.Sounding, 1.3) || !near(a.Space, 2.5) || a.Semitones != 12 {
		t.Errorf("first phrase: %+v", a)
	}
	if low, high := tab.Token(a.Lowest), tab.Token(a.Highest); low != "-1" || high != "-4" {
		t.Errorf("from %s to %s, want -1 to -4", low, high)
	}
	if b.Events != 1 || !near(b.Sounding, 2) || !near(b.Space, 3) || b.Semitones != 0 ||
		tab.Token(b.Lowest) != "-3''" {
		t.Errorf("second phrase: %+v", b)
	}
}

func TestOfWithoutPhrases(t *testing.T) {
	d := document(t, event(t, 1, 2, "4"), event(t, 2.3, 3, "4"), event(t, 3.5, 4, "4"))
	if got := Of(d); len(got) != 2 || got[0].End != 3 || !near(got[0].Space, 0.5) || !near(got[1].Space, 6) {
		t.Errorf("%+v", got)
	}
	if got := Of(document(t)); len(got) != 0 {
		t.Errorf("nothing played: %+v", got)
	}
	d = document(t, tab.Event{Start: 1, End: 2, Pitches: []float64{61.5}})
	d.To = 0
	if got := Of(d); len(got) != 1 || got[0].Lowest != nil || got[0].Semitones != 0 || got[0].Space != 0 {
		t.Errorf("a sound that the harp cannot play: %+v", got)
	}
}
