package review

import (
	"cmp"
	"slices"

	"blowdraw/pitch"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/playing"
	"blowdraw/tabber/reading"
	"blowdraw/tabber/tab"
)

// Settled reports whether a written event stands: the reader has decided it, or
// the transcriber was sure of it. It is one without a question mark.
func Settled(e tab.Event) bool { return !e.Doubtful() }

// Decision is an event of a refined document. Of is the index of the written event
// that it stands for, itself if it is settled, or -1 where the document has none.
type Decision struct {
	Event tab.Event
	Of    int
}

// besideSeconds is how far beyond a doubtful event what replaces it may lie.
const besideSeconds = 0.15

// Anew reads what was played beside the settled events of a document, which must be in
// order of time. Frames inside a settled event allow nothing but its state, which begins
// where the event does, so that its neighbours are chosen to go with it.
func Anew(
	r reading.Reader,
	x reading.Sound,
	settled []tab.Event,
	past reading.Nearby,
) ([]tab.Event, reading.Nearby) {
	out := r.ReadBound(x, bounds(r, x.Frames, settled), past)
	var events []tab.Event
	for _, e := range playing.MergeShakes(r.Harp, x.Frames, r.Events(out)) {
		if covered(settled, e.Start, e.End) < leastCovered {
			events = append(events, r.Heard(x.Frames, reading.Told(e.Event, 1)))
		}
	}
	return events, out.Near
}

// bounds ties the frames of settled events to their states. Events too short for
// the lattice, or off the ear's rows, tie nothing.
func bounds(r reading.Reader, f pitch.Frames, settled []tab.Event) []lattice.Bound {
	out := make([]lattice.Bound, f.N)
	for i := range out {
		out[i].State = lattice.Free
	}
	for i, e := range settled {
		if e.End <= f.Start || e.Start >= f.Time(f.N-1) {
			continue
		}
		from, to := f.Nearest(e.Start), f.Nearest(e.End)
		if i+1 < len(settled) {
			if next := settled[i+1].Start; next < f.Time(f.N-1) {
				to = min(to, f.Nearest(next))
			}
		}
		state := stateOf(r, e, f.Axis.Cents)
		if state < 0 || to-from < lattice.MinFrames {
			continue
		}
		for k := from; k < to; k++ {
			out[k] = lattice.Bound{State: state, Begin: k == from}
		}
	}
	return out
}

// Decisions put together the events of a document that stand, those that begin outside
// what was heard from one time to another in seconds, and what was found in place of the
// others, in order of time. What was found counts only where the document has a doubtful
// event.
func Decisions(events, found []tab.Event, from, to float64) []Decision {
	var out []Decision
	for i, e := range events {
		if Settled(e) || e.Start < from || e.Start >= to {
			out = append(out, Decision{e, i})
		}
	}
	found = slices.DeleteFunc(slices.Clone(found), func(e tab.Event) bool { return !replaces(events, e) })
	for j, i := range standFor(events, found) {
		out = append(out, Decision{found[j], i})
	}
	slices.SortStableFunc(out, func(a, b Decision) int { return cmp.Compare(a.Event.Start, b.Event.Start) })
	return out
}

// standFor tells for each found event which doubtful event it stands for: the
// one of whose time it has most, each once; -1 for none.
func standFor(events, found []tab.Event) []int {
	out := make([]int, len(found))
	for j := range out {
		out[j] = -1
	}
	for i, e := range events {
		if Settled(e) {
			continue
		}
		best, most := -1, 0.0
		for j, o := range found {
			if shared := min(e.End, o.End) - max(e.Start, o.Start); out[j] < 0 && shared > most {
				best, most = j, shared
			}
		}
		if best >= 0 {
			out[best] = i
		}
	}
	return out
}

// replaces reports whether an event lies where the document has a doubtful one.
func replaces(events []tab.Event, found tab.Event) bool {
	for _, e := range events {
		if !Settled(e) && found.Start < e.End+besideSeconds && found.End > e.Start-besideSeconds {
			return true
		}
	}
	return false
}

// Replace puts what was decided into the document that it comes from. The comment
// of a doubtful event goes to what replaces it, or where nothing does becomes a
// remark; remarks stay above the event that they stood above, and a phrase begins
// no later than its first event.
func Replace(d tab.Document, decided []Decision) tab.Document {
	out := d
	out.Events, out.Remarks, out.Phrases = nil, nil, slices.Clone(d.Phrases)
	place := make([]int, len(d.Events)+1) // where each event, and the end, has gone
	for i := range place {
		place[i] = -1
	}
	place[len(d.Events)] = len(decided)
	for j, x := range decided {
		if x.Of >= 0 {
			place[x.Of] = j
			x.Event.Comment, x.Event.Line = d.Events[x.Of].Comment, d.Events[x.Of].Line
			if slices.Equal(x.Event.Actions, d.Events[x.Of].Actions) {
				x.Event.Marks = d.Events[x.Of].Marks
			}
		}
		out.Events = append(out.Events, x.Event)
	}
	for i, e := range d.Events {
		if place[i] >= 0 {
			continue
		}
		place[i] = 0
		for place[i] < len(decided) && decided[place[i]].Event.Start < e.Start {
			place[i]++
		}
		if e.Comment != "" {
			out.Remarks = append(out.Remarks, tab.Remark{Before: place[i], Text: e.Comment})
		}
	}
	for _, r := range d.Remarks {
		if r.Before >= 0 {
			r.Before = place[min(r.Before, len(d.Events))]
		}
		out.Remarks = append(out.Remarks, r)
	}
	slices.SortStableFunc(out.Remarks, func(a, b tab.Remark) int { return a.Before - b.Before })
	for i := range out.Phrases {
		p := &out.Phrases[i]
		for _, e := range out.Events {
			if e.Start < p.Start && e.Start > p.Start-besideSeconds && e.End > p.Start &&
				(i == 0 || e.Start > out.Phrases[i-1].End) {
				p.Start = e.Start
				break
			}
		}
	}
	return out
}
