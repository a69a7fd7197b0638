package tabber

import (
	"context"
	"math"
	"reflect"
	"slices"
	"testing"

	"blowdraw/decode"
	"blowdraw/tabber/fit"
	"blowdraw/tabber/hearing"
	"blowdraw/tabber/render"
	"blowdraw/tabber/tab"
)

// untimed are events as they are written down without times.
func untimed(events []tab.Event) []tab.Event {
	out := slices.Clone(events)
	for i := range out {
		out[i].Start, out[i].End, out[i].Confidence = 0, 0, 1
	}
	return out
}

// fitTo lays notes onto a clip that is heard at once.
func fitTo(t *testing.T, tr *Transcriber, c decode.Clip, notes []tab.Event) fit.Result {
	t.Helper()
	r, err := tr.fit(context.Background(), c.Start, hearing.Whole(c), notes)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// A written page of a rendered performance, with one note left out, one added and two that
// were played otherwise, gets the times of the performance, and that is told. In windows it
// is the same.
func TestFit(t *testing.T) {
	h := harpOf(t, "A", "richter")
	cents := 9.0
	clip, truth := played(h, render.Tuning{Cents: cents}, 5, melody(t, h, lick, lengths))
	tr, err := NewTranscriber(h, Options{Tuning: &cents})
	if err != nil {
		t.Fatal(err)
	}
	notes := untimed(truth)
	other := func(i int, token string) {
		e := event(h, 0, 0, token)
		notes[i].Actions, notes[i].Pitches = e.Actions, e.Pitches
	}
	other(6, "-4")
	other(15, "6")
	const left, added = 10, 20 // index of the one left out, and of the one added
	notes = slices.Delete(notes, left, left+1)
	notes = slices.Insert(notes, added, notes[0])
	got := fitTo(t, tr, clip, notes)
	for i, n := range got.Notes {
		of := i
		if i >= left {
			of++
		}
		if i > added {
			of--
		}
		switch wrong := i == 6 || i == 14 || i == added; {
		case n.Found == wrong || n.Doubtful() != wrong:
			t.Errorf("note %d, %s at %.2f s: found %v, doubtful %v", i, tab.Token(n.Actions), n.Start, n.Found,
				n.Doubtful())
		case i != added && math.Abs(n.Start-truth[of].Start) > 0.05:
			t.Errorf("note %d, %s: at %.3f s, played at %.3f s", i, tab.Token(n.Actions), n.Start, truth[of].Start)
		}
	}
	for _, i := range []int{6, 14} {
		if n := got.Notes[i]; n.Instead == nil {
			t.Errorf("note %d: nothing is heard instead", i)
		}
	}
	if len(got.Added) != 1 || !slices.Equal(got.Added[0].Actions, truth[left].Actions) {
		t.Errorf("besides: %+v", got.Added)
	}
	short, err := tr.fit(context.Background(), 0, inWindows(t, clip, 8), notes)
	if err != nil {
		t.Fatal(err)
	}
	for i := range short.Notes {
		a, b := short.Notes[i], got.Notes[i]
		if math.Abs(a.Start-b.Start) > 1e-9 || a.Found != b.Found || !reflect.DeepEqual(a.Actions, b.Actions) {
			t.Errorf("in windows note %d is %+v, else %+v", i, a.Event, b.Event)
		}
	}
}

// Of a page that is of a part of the recording only, of one that is of nothing in it, and of
// none the notes stay in order, inside the recording.
func TestFitPart(t *testing.T) {
	h := harpOf(t, "A", "richter")
	clip, truth := played(h, render.Tuning{}, 6, melody(t, h, lick[:16], lengths))
	tr, err := NewTranscriber(h, Options{})
	if err != nil {
		t.Fatal(err)
	}
	part := fitTo(t, tr, clip, untimed(truth[5:10]))
	for i, n := range part.Notes {
		if !n.Found || math.Abs(n.Start-truth[5+i].Start) > 0.05 {
			t.Errorf("note %d: found %v at %.3f s, played at %.3f s", i, n.Found, n.Start, truth[5+i].Start)
		}
	}
	silence := decode.Clip{Rate: clip.Rate, Samples: make([]float64, 3*clip.Rate)}
	for _, c := range []decode.Clip{silence, {Rate: clip.Rate, Samples: clip.Samples[:clip.Rate/10]}} {
		end := 0.0
		for i, n := range fitTo(t, tr, c, untimed(truth)).Notes {
			if n.Found && len(c.Samples) == len(silence.Samples) || n.Start < end || n.End <= n.Start {
				t.Errorf("note %d of nothing: %+v", i, n)
			}
			end = n.End
		}
	}
	if r := fitTo(t, tr, clip, nil); len(r.Notes)+len(r.Added) != 0 {
		t.Errorf("no notes: %+v", r)
	}
}
