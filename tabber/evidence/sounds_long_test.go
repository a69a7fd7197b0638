//go:build long

package evidence

import (
	"math"
	"testing"

	"blowdraw/pitch"
	"blowdraw/tabber/lab/clips"
)

// Without a harp, dry, in a hall and overdriven: reeds and octaves are told apart by the sound alone.
func TestSounds(t *testing.T) {
	made, err := clips.Pairs(clips.Octaves, clips.Rendered, 5, 3)
	if err != nil {
		t.Fatal(err)
	}
	right, n := 0.0, 0.0
	for _, c := range made {
		sounds, _ := Sounds(c.Clip)
		for _, e := range c.Events {
			n++
			for _, s := range sounds {
				mid := (e.Start + e.End) / 2
				near := math.Abs(pitch.HzToMIDI(s.Hz)-e.Pitches[0]) < 0.5
				if s.Start < mid && mid < s.End && near && (s.Octave > 0.5) == (len(e.Actions) == 2) {
					right++
				}
			}
		}
	}
	t.Logf("%.3f of %.0f right", right/n, n)
	if right/n < 0.88 {
		t.Errorf("%.3f right, want at least 0.88", right/n)
	}
}
