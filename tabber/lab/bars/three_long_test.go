//go:build long

package bars

import (
	"testing"

	"blowdraw/decode/programs/fluidsynth"
	"blowdraw/onset/form"
)

// Bands in three are not written in four, and those in four are never taken for three.
// From which log odds three are believed was chosen on seeds 71 to 73.
func TestThree(t *testing.T) {
	for _, set := range []Takes{
		{inFour, 74, 54, fluidsynth.SmallBank, true}, {[]string{"waltz"}, 75, 36, fluidsynth.SmallBank, true},
	} {
		three, written := 0, 0
		for _, b := range findBars(made(t, set)) {
			if b.Three {
				three++
			}
			if b.Sure >= form.SureFrom {
				written++
			}
		}
		t.Logf("%s: %d taken for three, %d written in four", set, three, written)
		if len(set.Grooves) > 1 && three > 0 || len(set.Grooves) == 1 && 2*three < set.N {
			t.Errorf("%s: %d taken for three", set, three)
		}
	}
}
