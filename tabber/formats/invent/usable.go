package invent

import (
	"bytes"
	"fmt"
	"math"

	"blowdraw/tabber/formats/melody"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// Usable says what is wrong with a melody that was read: notes that are no notes
// or out of order, or a part that can't be written as tab, or is another one when
// that is read.
func Usable(m melody.Melody) error {
	h, err := harp.Parse("C", harp.Layouts()[0])
	if err != nil {
		return err
	}
	for i, p := range m.Parts {
		before := 0.0
		for _, n := range p.Notes {
			if !(n.Start >= before && n.End >= n.Start && n.End < math.Inf(1) && n.Pitch >= 0 &&
				n.Pitch < 128) {
				return fmt.Errorf("part %d has the note %+v, after one at %g s", i+1, n, before)
			}
			before = n.Start
		}
		d, _ := m.Tab(p, h, max(m.Key, 0), false)
		if err := writable(d); err != nil {
			return fmt.Errorf("part %d: %w", i+1, err)
		}
	}
	return nil
}

// writable says why a document can't be written, read and written again as before.
func writable(d tab.Document) error {
	var first, second bytes.Buffer
	if err := tab.WriteText(&first, d); err != nil {
		return err
	}
	back, err := tab.Parse(bytes.NewReader(first.Bytes()))
	if err != nil {
		return fmt.Errorf("reading what was written: %w", err)
	}
	if err := tab.WriteText(&second, back); err != nil {
		return fmt.Errorf("writing it again: %w", err)
	}
	if !bytes.Equal(first.Bytes(), second.Bytes()) {
		return fmt.Errorf("written as\n%s\nand then as\n%s", first.Bytes(), second.Bytes())
	}
	return nil
}
