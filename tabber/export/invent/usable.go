package invent

import (
	"fmt"
	"io"
	"math"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/melody"
	"blowdraw/tabber/tab"
)

// Usable says what is wrong with a melody that was read: notes that are no notes
// or out of order, or a part that can't be written as tab.
func Usable(m melody.Melody) error {
	h, err := harp.Parse("C", harp.Layouts()[0])
	if err != nil {
		return err
	}
	for i, p := range m.Parts {
		before := 0.0
		for _, n := range p.Notes {
			if !(n.Start >= before && n.End >= n.Start && n.End < math.Inf(1) && n.Pitch >= 0 && n.Pitch < 128) {
				return fmt.Errorf("part %d has the note %+v, after one at %g s", i+1, n, before)
			}
			before = n.Start
		}
		d, _ := m.Tab(p, h, max(m.Key, 0), false)
		if err := tab.WriteText(io.Discard, d); err != nil {
			return fmt.Errorf("part %d: %w", i+1, err)
		}
	}
	return nil
}
