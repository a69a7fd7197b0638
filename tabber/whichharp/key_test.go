package whichharp

import (
	"math"
	"testing"

	"blowdraw/tabber/harp/harptest"
	"blowdraw/tabber/tab"
)

// Chords move the key that the notes leave open; too few notes tell no key, whatever the band
// plays, and the usual one is second position: G on a C harp (common practice, no source).
func TestKeyWithBand(t *testing.T) {
	h := harptest.Of(t, "C", "richter")
	var events []tab.Event
	for i, token := range []string{"-2", "-3'", "4", "-4", "-4'", "4", "-3'", "-2", "-1", "2", "3", "-2"} {
		actions, err := tab.ParseToken(h, token)
		if err != nil {
			t.Fatal(err)
		}
		at := float64(i) / 2
		events = append(events, tab.Event{
			Start: at, End: at + 0.4, Actions: actions, Pitches: []float64{float64(h.MIDI(actions[0]))},
		})
	}
	const c, g = 0, 7
	alone := KeyOf(h, events, 0)
	var even, inC [12]float64
	for k := range even {
		even[k] = 3 // the same for all says nothing
	}
	inC[c] = 12
	if same := KeyWithBand(h, events, 0, even); same.PitchClass != alone.PitchClass ||
		math.Abs(same.Probability-alone.Probability) > 1e-9 {
		t.Errorf("a band that says nothing makes of %+v %+v", alone, same)
	}
	if k := KeyWithBand(h, events, 0, inC); k.PitchClass != c || !k.Likely() || k.OrUsual(h) != c {
		t.Errorf("a band in C: %+v, want C", k)
	}
	few := KeyWithBand(h, events[:leastKeyNotes-1], 0, inC)
	if few.PitchClass != g || few.Likely() || few.OrUsual(h) != g {
		t.Errorf("%d notes: %+v, want the usual G, unlikely", leastKeyNotes-1, few)
	}
	if k := (Key{PitchClass: c, Probability: likelyKey - 0.01}); k.OrUsual(h) != g {
		t.Errorf("an unlikely key is taken: %d", k.OrUsual(h))
	}
}
