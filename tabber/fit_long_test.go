//go:build long

package tabber

import (
	"math"
	"math/rand/v2"
	"testing"

	"blowdraw/decode/programs"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/lab/clips"
	"blowdraw/tabber/tab"
)

// The hard set's notes come from a sound bank and a synthesizer that the ear was not trained
// on. Its pages with a tenth of the notes left out and a tenth other ones: of the others
// nineteen in twenty start within 0.1 s of where they are played, and of ten that are wrong
// seven are told.
func TestFitHardSet(t *testing.T) {
	right, of, told, wrong := 0, 0, 0, 0
	for _, category := range []string{"held", "low", "fast", "double"} {
		made, err := clips.Clips(category, 99)
		programs.Check(t, err, clips.ErrMissing)
		for _, c := range made {
			tr, err := NewTranscriber(c.Harp, Options{})
			if err != nil {
				t.Fatal(err)
			}
			notes, from, other := spoiled(c.Harp, c.Events)
			for i, n := range fitTo(t, tr, c.Clip, notes).Notes {
				switch off := math.Abs(n.Start - c.Events[from[i]].Start); {
				case other[i]:
					wrong++
					if !n.Found {
						told++
					}
				default:
					of++
					if off <= 0.1 {
						right++
					}
				}
			}
		}
	}
	t.Logf("%d of %d notes within 0.1 s; %d of %d other notes told", right, of, told, wrong)
	if 20*right < 19*of || 10*told < 7*wrong {
		t.Errorf("%d of %d notes within 0.1 s; %d of %d other notes told", right, of, told, wrong)
	}
}

// spoiled are events as a page has them with a tenth left out and a tenth other ones; from tells
// which each was.
func spoiled(h harp.Harp, events []tab.Event) (notes []tab.Event, from []int, other []bool) {
	rng := rand.New(rand.NewPCG(uint64(len(events)), 7))
	order := rng.Perm(len(events))
	tenth := max(1, len(events)/10)
	what := make([]int, len(events)) // 1: left out, 2: another
	for k, i := range order[:min(2*tenth, len(order))] {
		what[i] = 1 + k/tenth
	}
	for i, e := range untimed(events) {
		if what[i] == 1 {
			continue
		}
		for what[i] == 2 {
			a := harp.Action{Breath: harp.Breath(rng.IntN(2)), Hole: 1 + rng.IntN(6)}
			if len(e.Actions) > 1 || len(e.Actions) == 1 && h.MIDI(a) != h.MIDI(e.Actions[0]) {
				e.Actions, e.Pitches = []harp.Action{a}, []float64{float64(h.MIDI(a))}
				break
			}
		}
		notes, from, other = append(notes, e), append(from, i), append(other, what[i] == 2)
	}
	return notes, from, other
}
