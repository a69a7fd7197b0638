package tabber

import (
	"context"
	"math"
	"testing"

	"blowdraw/pitch"
	"blowdraw/tabber/render"
)

// What is heard lies where it was played, by both ears and however the recording is
// cut into windows.
func TestPitches(t *testing.T) {
	h := harpOf(t, "A", "richter")
	clip, truth := played(h, render.Tuning{Cents: 12}, 5, melody(t, h, lick, lengths))
	learned, err := NewTranscriber(h, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name   string
		t      *Transcriber
		window float64
	}{{"classical", classical(t, h, Options{}), 60}, {"learned", learned, 60}, {"learned in windows", learned, 20}} {
		heard, err := c.t.pitches(context.Background(), 0, inWindows(t, clip, c.window))
		if err != nil {
			t.Fatal(err)
		}
		if want := len(clip.Samples) / pitch.Hop; len(heard) < want || len(heard) > want+1 {
			t.Errorf("%s: %d frames, want %d", c.name, len(heard), want)
		}
		right, all := 0, 0
		for _, e := range truth {
			for i := int((e.Start + 0.06) / pitch.HopSeconds); i < int((e.End-0.03)/pitch.HopSeconds); i++ {
				all++
				if len(heard[i]) == 1 && math.Abs(heard[i][0]-e.Pitches[0]) < 0.1 {
					right++
				}
			}
		}
		if all < 500 || float64(right) < 0.95*float64(all) {
			t.Errorf("%s: %d of %d frames have the pitch that was played", c.name, right, all)
		}
	}
}
