package study

import (
	"slices"

	"blowdraw/tabber/tab"
)

// leastShared is the part of an event's time that a heard one must share to be the same.
const leastShared = 0.5

// Measured is a tab with what was measured of its events where the same were heard: their
// pitches, and how wide, fast and long their marks are. Its notes and marks stay as they
// are written. Both documents are of the same recording.
func Measured(d, heard tab.Document) tab.Document {
	out := d
	out.Events = slices.Clone(d.Events)
	off := (d.TuningCents - heard.TuningCents) / 100
	first := 0
	for i := range out.Events {
		e := &out.Events[i]
		for first < len(heard.Events) && heard.Events[first].End <= e.Start {
			first++
		}
		best, most := -1, leastShared*(e.End-e.Start)
		for k := first; k < len(heard.Events) && heard.Events[k].Start < e.End; k++ {
			h := heard.Events[k]
			shared := min(h.End, e.End) - max(h.Start, e.Start)
			if shared >= most && slices.Equal(h.Actions, e.Actions) {
				best, most = k, shared
			}
		}
		if best < 0 || len(e.Actions) == 0 {
			continue
		}
		e.Pitches = nil
		for _, p := range heard.Events[best].Pitches {
			e.Pitches = append(e.Pitches, p+off)
		}
		e.Marks = slices.Clone(e.Marks)
		for k, m := range e.Marks {
			if h, ok := heard.Events[best].Mark(m.Name); ok && m.Name != tab.OffPitch && m.Name != tab.Bleed {
				h.Confidence = 0 // who wrote it is sure
				e.Marks[k] = h
			}
		}
	}
	return out
}
