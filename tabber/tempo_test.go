package tabber

import (
	"context"
	"math"
	"testing"

	"blowdraw/decode"
	"blowdraw/onset/beat"
	"blowdraw/pitch"
	"blowdraw/tabber/beats"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/hearing"
	"blowdraw/tabber/render"
)

// triplets is a melody of the synthesizer on a grid of triplets at the tempo,
// with a space after each round.
func triplets(t testing.TB, h harp.Harp, bpm float64, rounds int) decode.Clip {
	third := 60 / bpm / 3
	var tokens []string
	for range rounds {
		tokens = append(
			tokens,
			"-2",
			"",
			"-3'",
			"4",
			"-3'",
			"-4",
			"5",
			"-4",
			"4",
			"-3'",
			"-2",
			"2",
			"",
			"",
			"",
			"",
			"",
			"",
		)
	}
	g := melody(t, h, tokens, []float64{third})
	clip, _ := played(h, render.Tuning{Cents: 5}, 4, g)
	return clip
}

func TestTempo(t *testing.T) {
	h := harpOf(t, "A", "richter")
	tempos := []float64{112, 78, 136}
	if !thorough {
		tempos = tempos[:1]
	}
	for _, name := range []string{"learned", "classical"} {
		for _, bpm := range tempos {
			tr, err := NewTranscriber(h, Options{Ear: name})
			if err != nil {
				t.Fatal(err)
			}
			r := tr.Clip(triplets(t, h, bpm, 4))
			if math.Abs(r.Tempo.BPM/bpm-1) > 0.02 {
				t.Errorf("%s: %.1f bpm, want %g", name, r.Tempo.BPM, bpm)
			}
			if r.Tempo.Feel != beat.Triplet {
				t.Errorf("%s: feel %q at %g bpm", name, r.Tempo.Feel, bpm)
			}
		}
	}
	tr := classical(t, h, Options{Asked: beats.Asked{BPM: 112}})
	if r := tr.Clip(triplets(t, h, 112, 2)); r.Tempo.BPM != 112 || r.Tempo.Alternative != 0 {
		t.Errorf("given 112: %g, alternative %g", r.Tempo.BPM, r.Tempo.Alternative)
	}
}

// Times of beats count from the start of the recording, window by window too.
func TestTempoOfStream(t *testing.T) {
	h := harpOf(t, "A", "richter")
	clip := triplets(t, h, 96, 5)
	tr := classical(t, h, Options{})
	const from = 3.0
	whole := tr.Clip(decode.Clip{Rate: pitch.Rate, Start: from, Samples: clip.Samples[int(from*pitch.Rate):]})
	s := open(t, clip, decode.Options{Rate: pitch.Rate, From: from})
	r, err := tr.transcribe(context.Background(), from, hearing.StreamBy(s, from, nil, 17))
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(r.Tempo.BPM-whole.Tempo.BPM) > 0.5 || len(r.Tempo.Beats) != len(whole.Tempo.Beats) {
		t.Fatalf(
			"%.2f bpm and %d beats, at once %.2f and %d",
			r.Tempo.BPM,
			len(r.Tempo.Beats),
			whole.Tempo.BPM,
			len(whole.Tempo.Beats),
		)
	}
	for i, b := range r.Tempo.Beats {
		if math.Abs(b-whole.Tempo.Beats[i]) > 0.03 || b < from {
			t.Errorf("beat %d at %.3f, at once %.3f", i, b, whole.Tempo.Beats[i])
		}
	}
}
