package tabber

import (
	"context"
	"math"
	"reflect"
	"slices"
	"testing"

	"blowdraw/tabber/render"
	"blowdraw/tabber/review"
	"blowdraw/tabber/tab"
)

// Wrong doubtful events come out right, settled ones stay even where they are
// wrong, and nothing appears where nothing was in doubt.
func TestRefine(t *testing.T) {
	h := harpOf(t, "A", "richter")
	clip, truth := played(h, render.Tuning{}, 5, melody(t, h, lick, lengths))
	learned, err := NewTranscriber(h, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name   string
		t      *Transcriber
		window float64
	}{{"classical", classical(t, h, Options{}), 60}, {"classical in windows", classical(t, h, Options{}), 16}, {"learned", learned, 60}} {
		written := slices.Clone(truth)
		for i := range written {
			written[i].Confidence = 1
			written[i].Comment = tab.Token(written[i].Actions)
		}
		change := func(i int, token string, confidence float64) {
			written[i].Actions, written[i].Confidence = event(h, 0, 0, token).Actions, confidence
		}
		change(3, "-5", 0.4)
		change(4, "4", 0.4)
		change(20, "[1 4]", 0.3)
		change(9, "-6", 1) // the reader insists
		gone := 12
		written = slices.Delete(written, gone, gone+1) // and wants this one away
		got, err := c.t.refine(context.Background(), 0, inWindows(t, clip, c.window), written)
		if err != nil {
			t.Fatal(err)
		}
		if len(got) != len(written) {
			t.Fatalf("%s: %d events, want %d", c.name, len(got), len(written))
		}
		for i, d := range got {
			want := written[i]
			if d.Of != i {
				t.Errorf("%s: event %d stands for %d", c.name, i, d.Of)
			}
			if review.Settled(want) {
				if !reflect.DeepEqual(d.Event, want) {
					t.Errorf("%s: settled %+v became %+v", c.name, want, d.Event)
				}
				continue
			}
			if tab.Token(d.Event.Actions) != want.Comment || math.Abs(d.Event.Start-want.Start) > 0.06 {
				t.Errorf(
					"%s: event %d is %s at %.3f, want %s at %.3f",
					c.name,
					i,
					tab.Token(d.Event.Actions),
					d.Event.Start,
					want.Comment,
					want.Start,
				)
			}
		}
	}
}
