package clips

import (
	"math/rand/v2"
	"reflect"
	"testing"

	"blowdraw/tabber/tab"
)

// The player plays all that it is said to play, one event after the other, and the same
// for the same random numbers.
func TestPlayer(t *testing.T) {
	marks := map[string]int{}
	for seed := range uint64(20) {
		var twice [2]*played
		for i := range twice {
			rng := rand.New(rand.NewPCG(seed, 7))
			h, hab := usual(rng)
			twice[i] = newPlayed(rng, h, hab)
			twice[i].play(Seconds)
		}
		p := twice[0]
		if !reflect.DeepEqual(p.gestures, twice[1].gestures) || !reflect.DeepEqual(p.marks, twice[1].marks) {
			t.Errorf("seed %d: not the same again", seed)
		}
		for i, g := range p.gestures {
			if g.End <= g.Start || i > 0 && g.Start < p.gestures[i-1].End-1e-9 {
				t.Errorf("seed %d: event %d from %.3f to %.3f", seed, i, g.Start, g.End)
			}
			for _, m := range p.marks[i] {
				marks[m.Name]++
			}
		}
	}
	for _, name := range []string{
		tab.Slap, tab.Pull, tab.Tongued, tab.Legato, tab.Wah, tab.HandClose, tab.Scoop, tab.Fall, tab.Dip,
		tab.Vibrato, tab.HandVibrato, tab.Accent,
	} {
		if marks[name] < 10 {
			t.Errorf("%s only %d times", name, marks[name])
		}
	}
}
