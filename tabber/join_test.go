package tabber

import (
	"bytes"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/playing"
	"blowdraw/tabber/render"
	"blowdraw/tabber/tab"
)

// joined is a tab of eight notes of one breath, begun as told, played and heard again.
func joined(t *testing.T, seed uint64, how func(i int) string) []tab.Event {
	t.Helper()
	h := harpOf(t, "A", "richter")
	d := tab.Document{Harp: h, SongKey: 4}
	for i, g := range melody(t, h, []string{"-4", "-5", "-4", "-3", "-4", "-6", "-5", "-4"}, []float64{0.35}) {
		start := 0.4 + 0.35*float64(i)
		e := tab.Event{Start: start, End: start + 0.35, Actions: g.Actions}
		if i > 0 {
			e.Marks = []tab.Mark{{Name: how(i)}}
		}
		d.Events = append(d.Events, e)
	}
	return playedAgain(t, d, seed)
}

// playedAgain is what is heard of a tab that is played on a set of reeds.
func playedAgain(t *testing.T, d tab.Document, seed uint64) []tab.Event {
	t.Helper()
	x := render.Render(render.Play(d, 0, 1, 0), render.Set{Seed: seed}, pitch.Rate)
	tr, err := NewTranscriber(d.Harp, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return tr.Clip(decode.Clip{Rate: pitch.Rate, Samples: x}).Events
}

// What a tab says of tongue and breath is heard again when it is played; a section that
// goes on in one way has no marks but for what is not so.
func TestTonguedOrLegato(t *testing.T) {
	for name, how := range map[string]func(i int) string{
		"tongued": func(int) string { return tab.Tongued },
		"legato":  func(int) string { return tab.Legato },
		"mostly legato": func(i int) string {
			if i == 5 {
				return tab.Tongued
			}
			return tab.Legato
		},
	} {
		right, all, marks := 0, 0, 0
		for seed := range uint64(3) {
			events := joined(t, seed, how)
			for i, e := range events {
				if i > 0 && len(events) == 8 {
					all++
					if e.Join.How() == how(i) {
						right++
					}
				}
				for _, m := range e.Marks {
					if m.Name == tab.Tongued || m.Name == tab.Legato {
						marks++
					}
				}
			}
		}
		if t.Logf("%s: %d of %d right, %d marks", name, right, all, marks); all < 14 ||
			float64(right) < 0.9*float64(all) {
			t.Errorf("%s: %d of %d right", name, right, all)
		}
		if want := map[string]int{"mostly legato": 3}[name]; max(marks-want, want-marks) > 1 {
			t.Errorf("%s: %d marks, want %d", name, marks, want)
		}
	}
}

// A section that is begun in one way keeps it when its tab is written, read, played and
// heard again, though none of its notes is marked.
func TestUsualJoinAgain(t *testing.T) {
	h := harpOf(t, "A", "richter")
	for _, how := range []string{tab.Tongued, tab.Legato} {
		for seed := range uint64(3) {
			events := joined(t, seed, func(int) string { return how })
			for i := range events[1:] { // as many write it: each note lasts until the next
				events[i].End = events[i+1].Start
			}
			var text bytes.Buffer
			usual := []string{tab.JoinNote(playing.UsualJoin(events))}
			written := tab.Document{Harp: h, SongKey: 4, To: 4, Events: events, Notes: usual}
			if err := tab.WriteText(&text, written); err != nil {
				t.Fatal(err)
			}
			d, err := tab.Parse(&text)
			if err != nil {
				t.Fatal(err)
			}
			if got := playing.UsualJoin(playedAgain(t, d, seed+5)); got != how {
				t.Errorf("%s, reeds %d: %q when heard again", how, seed, got)
			}
		}
	}
}

// Hands that open or close in a tab are heard again when it is played, on three in four of the
// notes at least. Plain notes have no such marks.
func TestHandsAgain(t *testing.T) {
	for name, least := range map[string]int{tab.Wah: 7, tab.HandClose: 7} {
		found, all, false := 0, 0, 0
		for seed := range uint64(3) {
			h := harpOf(t, "A", "richter")
			d := tab.Document{Harp: h, SongKey: 4}
			for i, g := range melody(t, h, []string{"-4", "5", "-3", "4", "-2", "6"}, []float64{0.8}) {
				start := 0.4 + float64(i)
				e := tab.Event{Start: start, End: start + 0.8, Actions: g.Actions}
				if i%2 == 0 {
					e.Marks = []tab.Mark{{Name: name, DB: 14, Seconds: 0.3}}
				}
				d.Events = append(d.Events, e)
			}
			events := playedAgain(t, d, seed)
			for i := range d.Events {
				_, ok := eventAt(events, 0.8+float64(i)).Mark(name)
				switch {
				case i%2 == 0:
					all++
					if ok {
						found++
					}
				case ok:
					false++
				}
			}
		}
		if t.Logf("%s: %d of %d, %d false", name, found, all, false); found < least || false > 1 {
			t.Errorf("%s: %d of %d, %d false", name, found, all, false)
		}
	}
}
