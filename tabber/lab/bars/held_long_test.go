//go:build long

package bars

import (
	"testing"

	"blowdraw/decode/programs/fluidsynth"
	"blowdraw/onset/form"
)

// Takes that nothing was fitted to. Those of seeds 3, 4 and 13 were looked at while
// choosing, 14 and 15 were not.
var (
	heldTakes = []Takes{
		{inFour, 3, 54, fluidsynth.SmallBank, false}, {inFour, 4, 90, fluidsynth.MuseBank, true},
		{inFour, 13, 144, fluidsynth.MuseBank, false},
	}
	freshTakes = []Takes{
		{inFour, 14, 108, fluidsynth.MuseBank, true}, {inFour, 15, 108, fluidsynth.SmallBank, true},
	}
)

func TestMoreGeneratedBands(t *testing.T) { checkBands(t, 18) }

// How often the bars are right that are found, and that are written, and how probable
// they were said to be.
func TestBarsFound(t *testing.T) {
	for _, c := range []struct {
		name string
		sets []Takes
	}{{"held out", heldTakes}, {"fresh", freshTakes}} {
		var takes []take
		for _, set := range c.sets {
			takes = append(takes, made(t, set)...)
		}
		var all tally
		by := map[string]*tally{}
		var said, came [10]int
		for i, b := range findBars(takes) {
			right, written := takes[i].right(b), b.Sure >= form.SureFrom
			groove := takes[i].groove
			if by[groove] == nil {
				by[groove] = &tally{}
			}
			all.add(right, written)
			by[groove].add(right, written)
			n := min(9, int(10*b.Sure))
			said[n]++
			if right {
				came[n]++
			}
		}
		for _, g := range inFour {
			t.Logf("%s, %s: %+v", c.name, g, *by[g])
		}
		t.Logf("%s: %+v", c.name, all)
		for n := range said {
			t.Logf("%s: said %d to %d %%: right in %d of %d", c.name, 10*n, 10*n+10, came[n], said[n])
		}
		if 10*all.right < 7*all.all || 20*all.writtenRight < 17*all.written || 2*all.written < all.all {
			t.Errorf("%s: %+v", c.name, all)
		}
	}
}
