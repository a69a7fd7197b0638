package tabber

import (
	"context"
	"math"
	"slices"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/render"
	"blowdraw/tabber/review"
	"blowdraw/tabber/tab"
)

// verdictOn judges events against a clip, heard in windows of so many seconds.
func verdictOn(
	t *testing.T,
	tr *Transcriber,
	clip decode.Clip,
	events []tab.Event,
	length float64,
) review.Verdict {
	t.Helper()
	v, err := tr.judge(context.Background(), inWindows(t, clip, length), events)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// What was played is confirmed and what was not is told, with what was played
// instead, by both ears and however the recording is cut into windows.
func TestJudge(t *testing.T) {
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
	}{{"classical", classical(t, h, Options{}), 60}, {"classical in windows", classical(t, h, Options{}), 16}, {"learned", learned, 60}} {
		written := slices.Clone(truth)
		wrong := map[int]string{3: "-5", 9: "-6", 20: "[1 4]"}
		for i, token := range wrong {
			actions, err := tab.ParseToken(h, token)
			if err != nil {
				t.Fatal(err)
			}
			written[i].Actions = actions
		}
		late := 6
		written[late].Start += 0.1
		missing := 12
		written = slices.Delete(written, missing, missing+1)
		v := verdictOn(t, c.t, clip, written, c.window)
		if math.Abs(v.TuningCents-12) > 4 {
			t.Errorf("%s: tuning %.1f cents, want 12", c.name, v.TuningCents)
		}
		if len(v.Missed) != 1 || tab.Token(v.Missed[0].Actions) != tab.Token(truth[missing].Actions) ||
			math.Abs(v.Missed[0].Start-truth[missing].Start) > 0.06 {
			t.Errorf(
				"%s: missed %+v, want %s at %.2f",
				c.name,
				v.Missed,
				tab.Token(truth[missing].Actions),
				truth[missing].Start,
			)
		}
		agree := 0
		for i, j := range v.Judgements {
			at := i
			if i >= missing {
				at++
			}
			want := tab.Token(truth[at].Actions)
			if wrong[at] != "" {
				if j.Confidence > 0.2 || j.Instead == nil || tab.Token(j.Instead.Actions) != want {
					t.Errorf("%s: %s where %s was played: %+v", c.name, wrong[at], want, j)
				}
				continue
			}
			if j.Confidence >= 0.8 && j.Instead == nil && j.Sounds > 0.5 && math.Abs(j.Start-truth[at].Start) < 0.06 {
				agree++
			}
			if i == late && !(math.Abs(j.Start-truth[at].Start) < 0.06) {
				t.Errorf(
					"%s: %s begins at %.3f, written %.3f, heard %.3f",
					c.name,
					want,
					truth[at].Start,
					written[i].Start,
					j.Start,
				)
			}
		}
		if right := len(written) - len(wrong); agree < right*9/10 {
			t.Errorf("%s: %d of %d right events are confirmed", c.name, agree, right)
		}
	}
}

// A note bent flat is that many cents flat.
func TestJudgeCents(t *testing.T) {
	h := harpOf(t, "C", "richter")
	notes, events := render.Perform(h, render.Tuning{}, melody(t, h, []string{"4", "-4", "5"}, []float64{0.6}))
	for i := range notes {
		if i == 1 {
			notes[i].MIDI -= 0.3
		}
	}
	x := append(render.Render(notes, render.Set{Seed: 3}, pitch.Rate), make([]float64, pitch.Rate/2)...)
	none := 0.0
	v := verdictOn(
		t,
		classical(t, h, Options{Tuning: &none}),
		decode.Clip{Rate: pitch.Rate, Samples: x},
		events,
		60,
	)
	for i, want := range []float64{0, -30, 0} {
		if got := v.Judgements[i].Cents; len(got) != 1 || math.Abs(got[0]-want) > 6 {
			t.Errorf("event %d: %v cents, want %g", i, got, want)
		}
	}
}

// Events outside the recording and off the ear's rows are not judged; unusual
// chords are.
func TestJudgeOutside(t *testing.T) {
	h := harpOf(t, "C", "richter")
	clip, events := played(h, render.Tuning{}, 1, melody(t, h, []string{"4"}, []float64{1}))
	odd := event(h, 0.5, 0.9, "[1 3 6]")
	after := event(h, 60, 61, "4")
	unplayable := tab.Event{Start: 0.5, End: 1, Pitches: []float64{200}}
	v := verdictOn(t, classical(t, h, Options{}), clip, []tab.Event{events[0], odd, unplayable, after}, 60)
	for i, want := range []bool{true, true, false, false} {
		if v.Judgements[i].Heard != want {
			t.Errorf("event %d heard: %v, want %v", i, !want, want)
		}
	}
	if c := v.Judgements[1].Confidence; c > 0.2 {
		t.Errorf("a chord that is not there: %.2f", c)
	}
}
