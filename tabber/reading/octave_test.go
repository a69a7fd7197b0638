package reading

import (
	"math"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/hearing"
	"blowdraw/tabber/lab/clips"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/tab"
)

// The answer decides, and what is chosen has more than half; where the answer is clear, 0.7.
func TestOctavesDecide(t *testing.T) {
	made, err := clips.Pairs(clips.Octaves, clips.Rendered, 8, 1)
	if err != nil {
		t.Fatal(err)
	}
	c := made[0]
	ear, err := hearing.Learned()
	if err != nil {
		t.Fatal(err)
	}
	x := Sound{Clip: decode.Clip{Rate: pitch.Rate, Samples: c.Samples}}
	x.Frames = ear.Listener(c.Harp, x.Clip)(0)
	r := New(c.Harp, lattice.Choice{Several: true})
	spans := r.Bordered(x.Frames, lattice.New(r.States, x.Frames, r.Method.Weights, nil).Best())
	asked, near := r.ask(x, spans, Nothing())
	if len(near.asked) < len(c.Events)/2 {
		t.Errorf("%d of %d notes are asked", len(near.asked), len(c.Events))
	}
	for _, s := range asked {
		if s.Octave == 0 {
			continue
		}
		least := 0.5
		if math.Abs(s.Octave) > 1 {
			least = 0.7
		}
		if _, both, _ := r.States.OctaveOf(s.State); (s.Octave > 0) != (s.State == both) || r.octaveSide(s) < least {
			t.Errorf("log odds %.1f: %s, %.2f", s.Octave, tab.Token(r.States[s.State].Actions), r.octaveSide(s))
		}
	}
}
