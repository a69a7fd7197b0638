package models

import (
	"context"
	"io"
	"path/filepath"
	"slices"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/harp/harptest"
	"blowdraw/tabber/lab/files"
	"blowdraw/tabber/lab/truth"
	"blowdraw/tabber/render"
	"blowdraw/tabber/tab"
)

// playClip writes a clip of events a second apart, played by the additive reeds of package
// render, into a folder, with a truth in which the actions may be others.
func playClip(t *testing.T, dir string, played, told []string) {
	t.Helper()
	h := harptest.Of(t, "C", "richter")
	f := truth.File{Harp: "C", Layout: "richter", Tier: "plain", Audio: "plain-1.wav",
		Seconds: float64(len(played)) + 1}
	var gestures []render.Gesture
	for i, token := range played {
		actions := parse(t, h, token)
		start := 0.5 + float64(i)
		gestures = append(gestures, render.Gesture{Start: start, End: start + 0.7, Actions: actions, Attack: 0.02,
			Release: 0.04})
	}
	notes, events := render.Perform(h, render.Tuning{}, gestures)
	for i, e := range events {
		out := truth.Event{Start: e.Start, End: e.End}
		for _, a := range parse(t, h, told[i]) {
			out.Breath = a.Breath.String()
			out.Holes, out.Bends = append(out.Holes, a.Hole), append(out.Bends, float64(a.Bend))
			out.MIDI = append(out.MIDI, float64(h.MIDI(a)))
		}
		f.Events = append(f.Events, out)
	}
	x := append(render.Render(notes, render.Set{Seed: 3}, pitch.Rate), make([]float64, pitch.Rate/2)...)
	err := files.Write(filepath.Join(dir, f.Audio), func(w io.Writer) error {
		return decode.WriteWAV(w, decode.Clip{Rate: pitch.Rate, Samples: x})
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := truth.Write(truth.Of(dir, "plain-1"), f); err != nil {
		t.Fatal(err)
	}
}

func parse(t *testing.T, h harp.Harp, token string) []harp.Action {
	t.Helper()
	actions, err := tab.ParseToken(h, token)
	if err != nil {
		t.Fatal(err)
	}
	return actions
}

// What models are fitted to is what the truth says of the events heard: here a player whose
// notes are heard as they are, of which the truth has two otherwise.
func TestCases(t *testing.T) {
	dir := t.TempDir()
	playClip(t, dir,
		[]string{"-4", "5", "[1 4]", "[-4 -5]", "6", "1"},
		[]string{"-4", "5", "[1 4]", "[-4 -5]", "-6", "[1 4]"})
	ctx, folders := context.Background(), []string{dir}
	doubts, err := fromHeard(ctx, folders, heardClip.doubts)
	if err != nil {
		t.Fatal(err)
	}
	var right []bool
	for _, d := range doubts {
		right = append(right, d.yes)
	}
	if want := []bool{true, true, true, true, false, false}; !slices.Equal(right, want) {
		t.Errorf("right: %v, want %v", right, want)
	}
	asked, err := fromHeard(ctx, folders, heardClip.octaves)
	if err != nil {
		t.Fatal(err)
	}
	// Of the fifth event neither is written: there is no answer.
	octaves := 0
	for _, q := range asked {
		if q.yes {
			octaves++
		}
	}
	if len(asked) < 2 || octaves != 2 {
		t.Errorf("%d questions, of which %d are octaves in the truth, want 2", len(asked), octaves)
	}
	events, err := texturedEvents(ctx, folders)
	if err != nil {
		t.Fatal(err)
	}
	var kinds []int
	for _, e := range events {
		kinds = append(kinds, e.truth)
	}
	if want := []int{0, 0, 2, 1, 0, 2}; !slices.Equal(kinds, want) {
		t.Errorf("textures %v, want %v", kinds, want)
	}
}

// A folder without clips, and a truth without its sound, are errors that name them.
func TestNoClips(t *testing.T) {
	dir := t.TempDir()
	none := func(heardClip) []int { return nil }
	if _, err := fromHeard(context.Background(), []string{dir}, none); err == nil {
		t.Error("no clips: no error")
	}
	gone := truth.File{Harp: "C", Layout: "richter", Audio: "gone.wav"}
	if err := truth.Write(truth.Of(dir, "gone"), gone); err != nil {
		t.Fatal(err)
	}
	if _, err := fromHeard(context.Background(), []string{dir}, none); err == nil {
		t.Error("no sound: no error")
	}
}
