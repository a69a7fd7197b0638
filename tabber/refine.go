package tabber

import (
	"cmp"
	"context"
	"math"
	"slices"

	"blowdraw/decode"
	"blowdraw/pitch"
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

// Refine decides the doubtful events of a document anew, around the settled ones,
// which come back as they are. Frames inside a settled event allow nothing but
// its state, which begins where the event does, so that its neighbours are chosen
// to go with it; what is found counts only where the document has a doubtful
// event. The tuning should be that of the document. The recording is all of s,
// which must have been opened at pitch.Rate and begin from seconds into it; events
// outside it come back as they are. When the context is done Refine stops with
// the context's error.
func (t *Transcriber) Refine(ctx context.Context, s *decode.Stream, from float64, events []tab.Event) ([]Decision, error) {
	w := &window{stream: s, start: from, full: windowSeconds * pitch.Rate}
	return t.admitting(events).refine(ctx, w, events)
}

func (t *Transcriber) refine(ctx context.Context, w *window, events []tab.Event) ([]Decision, error) {
	cents := math.NaN()
	if t.opt.Tuning != nil {
		cents = *t.opt.Tuning
	}
	var settled, found []tab.Event
	for _, e := range events {
		if Settled(e) {
			settled = append(settled, e)
		}
	}
	from, past := w.start, always
	for {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if err := w.fill(); err != nil {
			return nil, err
		}
		at := cents
		f := t.hearWindow(w, nil, &at)
		cut := math.Inf(1)
		if !w.ended {
			cut = w.joint(f, events)
		}
		anew, near := t.anew(w.clip(), f, settled, past)
		for _, e := range between(anew, past.from, cut) {
			e.End = min(e.End, w.end())
			if replaces(events, e) {
				found = append(found, e)
			}
		}
		past = near.until(cut)
		if t.opt.Progress != nil {
			t.opt.Progress(w.end() - from)
		}
		if w.ended {
			break
		}
		w.drop(cut-settleSeconds, f)
	}
	var out []Decision
	for i, e := range events { // what was not heard stays, too
		if Settled(e) || e.Start < from || e.Start >= w.end() {
			out = append(out, Decision{e, i})
		}
	}
	for j, i := range standFor(events, found) {
		out = append(out, Decision{found[j], i})
	}
	slices.SortStableFunc(out, func(a, b Decision) int { return cmp.Compare(a.Event.Start, b.Event.Start) })
	return out, nil
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

// anew decides what was played beside the settled events, and tells what is nearby.
func (t *Transcriber) anew(c decode.Clip, f pitch.Frames, settled []tab.Event, past nearby) ([]tab.Event, nearby) {
	l := newLattice(t.states, f, t.method.weights)
	l.bounds = t.bounds(f, settled)
	var free []span
	for _, s := range l.best() {
		if l.bounds[s.from].state < 0 {
			free = append(free, s)
		}
	}
	if f.Loud == nil {
		free = t.sharpen(f, free)
	} else {
		free = t.trim(f, t.joinLate(f, free))
	}
	free = unbound(free, l.bounds)
	n := t.nearby(c, f, free, past)
	if len(free) == 0 {
		return nil, n
	}
	p := l.posterior()
	var out []tab.Event
	for i, c := range t.confidences(f, p, free, n) {
		e := t.event(f, p, free[i], c)
		if covered(settled, e.Start, e.End) < leastCovered {
			out = append(out, e)
		}
	}
	return out, n
}

// bounds ties the frames of settled events to their states. Events too short for
// the lattice, or off the ear's rows, tie nothing.
func (t *Transcriber) bounds(f pitch.Frames, settled []tab.Event) []bound {
	out := make([]bound, f.N)
	for i := range out {
		out[i].state = -1
	}
	for i, e := range settled {
		if e.End <= f.Start || e.Start >= f.Time(f.N-1) {
			continue
		}
		from, to := frameAt(f, e.Start), frameAt(f, e.End)
		if i+1 < len(settled) {
			if next := settled[i+1].Start; next < f.Time(f.N-1) {
				to = min(to, frameAt(f, next))
			}
		}
		state := t.stateOf(e, f.Axis.Cents)
		if state < 0 || to-from < minFrames {
			continue
		}
		for k := from; k < to; k++ {
			out[k] = bound{state, k == from}
		}
	}
	return out
}

// unbound cuts spans back to frames that are bound to nothing; too short remains
// go.
func unbound(spans []span, bounds []bound) []span {
	var out []span
	for _, s := range spans {
		for s.from < s.to && bounds[s.from].state >= 0 {
			s.from++
		}
		end := s.from
		for end < s.to && bounds[end].state < 0 {
			end++
		}
		if s.to = end; s.to-s.from >= minFrames {
			out = append(out, s)
		}
	}
	return out
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
			if e.Start < p.Start && e.Start > p.Start-besideSeconds && e.End > p.Start && (i == 0 || e.Start > out.Phrases[i-1].End) {
				p.Start = e.Start
				break
			}
		}
	}
	return out
}
