package tabber

import (
	"context"
	"testing"

	"blowdraw/tabber/beats"
	"blowdraw/tabber/hearing"
	"blowdraw/tabber/presence"
	"blowdraw/tabber/reading"
	"blowdraw/tabber/render"
	"blowdraw/tabber/tuning"
)

// Levels follow the loudness that was played.
func TestLevels(t *testing.T) {
	h := harpOf(t, "A", "richter")
	g := melody(t, h, []string{"4", "-4", "4"}, []float64{0.6})
	g[1].Level = -12
	clip, _ := played(h, render.Tuning{}, 2, g)
	tr, err := NewTranscriber(h, Options{})
	if err != nil {
		t.Fatal(err)
	}
	var notes []note
	for w := range hearing.Whole(clip).Windows(context.Background()) {
		notes = tr.part(w, tuning.At(0), reading.Nothing(), new(presence.Track), new(beats.Track)).notes
	}
	if len(notes) != 3 {
		t.Fatalf("%d notes, want 3", len(notes))
	}
	first, second := notes[0].level, notes[1].level
	if d := second - first; d > -8 || d < -18 {
		t.Errorf("a note played 12 dB softer is %.1f dB against the first", d)
	}
}
