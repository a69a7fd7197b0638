package tuning

import (
	"context"
	"math"
	"slices"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/harp/harptest"
	"blowdraw/tabber/hearing"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/reading"
	"blowdraw/tabber/render"
	"blowdraw/tabber/tab"
)

// played is what notes, given as tokens of tab, sound like on a harp, and the truth; 60 ms
// part them.
func played(
	t testing.TB,
	h harp.Harp,
	tuning render.Tuning,
	seed uint64,
	tokens []string,
) (decode.Clip, []tab.Event) {
	t.Helper()
	const length, gap = 0.4, 0.06
	var g []render.Gesture
	for i, token := range tokens {
		actions, err := tab.ParseToken(h, token)
		if err != nil {
			t.Fatal(err)
		}
		at := length * float64(i+1)
		g = append(g, render.Gesture{
			Start: at, End: at + length - gap, Actions: actions, Attack: 0.03, Release: 0.03,
		})
	}
	notes, events := render.Perform(h, tuning, g)
	x := render.Render(notes, render.Set{Seed: seed}, pitch.Rate)
	return decode.Clip{Rate: pitch.Rate, Samples: append(x, make([]float64, pitch.Rate/2)...)}, events
}

func tunerOf(h harp.Harp, e hearing.Ear) Tuner {
	return Tuner{Ear: e, Reader: reading.New(h, lattice.Choice{Several: e.Several()})}
}

// heard is what a tuner hears of a clip in one window, and the offset in cents.
func heard(tuner Tuner, c decode.Clip, known Offset) (f pitch.Frames, cents float64) {
	for w := range hearing.Whole(c).Windows(context.Background()) {
		f, cents = tuner.Hear(w, known)
	}
	return f, cents
}

// Harps tuned equal, just and between, on recordings up to 40 cents off: the
// offset of hole 1 blow comes out within 5 cents. Ratios of just intonation:
// package harp.
func TestTuning(t *testing.T) {
	h := harptest.Of(t, "C", "richter")
	tokens := []string{
		"-2", "-3'", "-4", "-4'", "-4", "5", "-5", "6", "-4", "4", "-3", "-3''", "-2", "-2''", "-1", "2",
	}
	shares := []float64{1, 0.5, 0}
	if !thorough {
		shares = shares[:1]
	}
	for _, just := range shares {
		for _, cents := range []float64{-40, -20, 0, 20, 40} {
			clip, _ := played(t, h, render.Tuning{Temperament: harp.Temperament{Just: just}, Cents: cents}, 7, tokens)
			if _, got := heard(tunerOf(h, hearing.Classical()), clip, Offset{}); math.Abs(got-cents) > 5 {
				t.Errorf("%g just, %g cents: measured %.2f", just, cents, got)
			}
		}
	}
}

// A record that runs most of a semitone fast or slow is read on the harp's own
// rows, not a semitone off. The reeds are those of package render.
func TestSemitoneOff(t *testing.T) {
	h := harptest.Of(t, "A", "richter")
	e, err := hearing.Learned()
	if err != nil {
		t.Fatal(err)
	}
	tuner := tunerOf(h, e)
	offsets := []float64{-70, 95, 0, -95, -30, 45, 70}
	if !thorough {
		offsets = offsets[:2]
	}
	tokens := []string{"-2", "1", "-3'", "4", "-4", "-4'", "4", "-3'", "-2", "2", "-1", "-2", "6", "-5", "-4"}
	for _, cents := range offsets {
		clip, truth := played(t, h, render.Tuning{Cents: cents}, 3, tokens)
		f, got := heard(tuner, clip, Offset{})
		if math.Abs(got-cents) > 6 {
			t.Errorf("%.0f cents off: measured %.1f", cents, got)
		}
		x := tuner.Reader.Read(reading.Sound{Clip: clip, Frames: f}, reading.Nothing())
		events := tuner.Reader.Events(x)
		right := 0
		for _, e := range events {
			if slices.ContainsFunc(truth, func(w tab.Event) bool {
				return math.Abs(w.Start-e.Start) < 0.05 && tab.Token(w.Actions) == tab.Token(e.Actions)
			}) {
				right++
			}
		}
		if right < len(truth)-1 || len(events) > len(truth)+1 {
			t.Errorf("%.0f cents off: %d of %d notes right, %d written", cents, right, len(truth), len(events))
		}
	}
}

// Beside a tab, what is measured is heeded if the tab has the same offset to 0.1 cents, and
// otherwise what the tab has, unless nothing plays; an offset that is known stands.
func TestHearWritten(t *testing.T) {
	h := harptest.Of(t, "C", "richter")
	clip, _ := played(t, h, render.Tuning{Cents: 12}, 7, []string{"-2", "-4", "5", "6", "-4", "4", "-1", "2"})
	silence := decode.Clip{Rate: pitch.Rate, Samples: make([]float64, 2*pitch.Rate)}
	tuner := tunerOf(h, hearing.Classical())
	_, measured := heard(tuner, clip, Offset{})
	near, far := math.Round(10*measured)/10, measured+3
	for _, c := range []struct {
		name      string
		clip      decode.Clip
		known     Offset
		written   *float64
		cents     float64
		asWritten bool
	}{
		{"nothing written", clip, Offset{}, nil, measured, false},
		{"the same", clip, Offset{}, &near, measured, false},
		{"another", clip, Offset{}, &far, far, true},
		{"known", clip, At(5), &far, 5, false},
		{"silence", silence, Offset{}, &far, 0, false},
	} {
		for w := range hearing.Whole(c.clip).Windows(context.Background()) {
			f, cents, asWritten, err := tuner.HearWritten(context.Background(), w, c.known, c.written)
			if err != nil || cents != c.cents || f.Axis.Cents != c.cents || asWritten != c.asWritten {
				t.Errorf("%s: heard at %g cents (axis %g), as written: %t, %v; want %g, %t",
					c.name, cents, f.Axis.Cents, asWritten, err, c.cents, c.asWritten)
			}
		}
	}
}
