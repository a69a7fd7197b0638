package tabber

import (
	"os/exec"
	"path/filepath"
	"testing"

	"blowdraw/decode"
	"blowdraw/decode/programs"
	"blowdraw/pitch"
	"blowdraw/tabber/presence"
	"blowdraw/tabber/render"
)

// Speech of espeak-ng (Debian package espeak-ng) between two harp phrases: next to
// none of it becomes tab, most of it is called a voice, and no note of the harp is
// lost.
func TestSpeech(t *testing.T) {
	programs.Need(t, "espeak-ng")
	h := harpOf(t, "A", "richter")
	g := melody(t, h, []string{"-2", "-3'", "4", "-4", "-4'", "4", "-3'", "-2"}, []float64{0.35, 0.25})
	solo, truth := played(h, render.Tuning{}, 5, g)
	tr, err := NewTranscriber(h, Options{})
	if err != nil {
		t.Fatal(err)
	}
	called, spoken, notes := 0.0, 0.0, 0
	voices := []string{"en+f3", "de+f2", "en", "en-us+m5"}
	if !thorough {
		voices = voices[:2]
	}
	for _, voice := range voices {
		path := filepath.Join(t.TempDir(), "speech.wav")
		words := "And now the second phrase. Listen how the note falls, then breathe, and play it again with me, slowly, from the start."
		if out, err := exec.Command("espeak-ng", "-v", voice, "-w", path, words).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		speech, _, _, err := decode.Load(path, decode.Options{Rate: pitch.Rate})
		if err != nil {
			t.Fatal(err)
		}
		rest := make([]float64, pitch.Rate/2)
		var all []float64
		for _, x := range [][]float64{solo.Samples, rest, speech.Samples, rest, solo.Samples} {
			all = append(all, x...)
		}
		start := float64(len(solo.Samples)+len(rest)) / pitch.Rate
		end := start + float64(len(speech.Samples))/pitch.Rate
		r := tr.Clip(decode.Clip{Rate: pitch.Rate, Samples: all})
		for _, e := range r.Events {
			if e.Start > start && e.End < end {
				notes++
			}
		}
		if len(r.Events) < 2*len(truth) {
			t.Errorf("%s: %d events, the harp plays %d", voice, len(r.Events), 2*len(truth))
		}
		for _, s := range r.Stretches {
			if s.Kind == presence.Voice {
				called += max(0, min(s.End, end)-max(s.Start, start))
			}
		}
		spoken += end - start
	}
	t.Logf("%.0f%% of %.1f s of speech is called a voice, %d notes", 100*called/spoken, spoken, notes)
	if called < 0.9*spoken || notes > 3 {
		t.Errorf(
			"%.0f%% of %.1f s of speech is called a voice, and %d notes are heard in it; want 90%% and at most 3",
			100*called/spoken,
			spoken,
			notes,
		)
	}
}
