package tabber

import (
	"math"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/lab/clips"
	"blowdraw/tabber/tab"
)

// Which notes may as well be an octave, on the common layout (common practice, no
// source): blow octaves are three holes apart, on draw 1 with 4, and four apart above.
func TestOctaveOf(t *testing.T) {
	tr := learnedC(t)
	token := func(i int) string {
		if i < 0 {
			return ""
		}
		return tab.Token(tr.states[i].actions)
	}
	for heard, want := range map[string][2]string{
		"-1": {"-1", "[-1 -4]"}, "[-1 -4]": {"-1", "[-1 -4]"}, "5": {"5", "[5 8]"}, "-6": {"-6", "[-6 -10]"},
		"-2": {"-2", "[3 6]"}, "[3 6]": {"-2", "[3 6]"},
		"-3'": {}, "[-4 -5]": {}, "[-2 -5]": {}, "10": {}, "[1 2 3]": {},
	} {
		for i := range tr.states {
			if token(i) != heard {
				continue
			}
			if low, both := tr.octaveOf(i); token(low) != want[0] || token(both) != want[1] {
				t.Errorf("%s: %q and %q, want %q", heard, token(low), token(both), want)
			}
		}
	}
}

// A decisive answer decides, and what is chosen then has more than half.
func TestOctavesDecide(t *testing.T) {
	clips, err := clips.Pairs(clips.Octaves, clips.Rendered, 8, 1)
	if err != nil {
		t.Fatal(err)
	}
	c := clips[0]
	tr, err := NewTranscriber(c.Harp, Options{})
	if err != nil {
		t.Fatal(err)
	}
	clip := decode.Clip{Rate: pitch.Rate, Samples: c.Samples}
	cents := math.NaN()
	f := tr.hear(clip, &cents)
	spans := tr.spans(newLattice(tr.states, f, tr.method.weights), f)
	if asked := tr.octaves(clip, f, spans, always); len(asked) < len(c.Events)/2 {
		t.Errorf("%d of %d notes are asked", len(asked), len(c.Events))
	}
	for _, s := range spans {
		if math.Abs(s.octave) <= decisive {
			continue
		}
		if _, both := tr.octaveOf(s.state); (s.octave > 0) != (s.state == both) || tr.octaveSide(s) < 0.7 {
			t.Errorf("log odds %.1f: %s, %.2f", s.octave, tab.Token(tr.states[s.state].actions), tr.octaveSide(s))
		}
	}
}
