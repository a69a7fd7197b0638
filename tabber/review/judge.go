// Package review is what a recording says of a written document: a judgement of each of
// its events, and doubtful ones decided anew around the settled ones.
package review

import (
	"cmp"
	"math"
	"slices"

	"blowdraw/pitch"
	"blowdraw/tabber/compare"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/reading"
	"blowdraw/tabber/tab"
)

// Judgement is what a recording says of one written event. Sounds is the
// probability, over the event's own time, that the reed sounds which least does.
// Start is where the event begins in the recording, NaN where nothing like it
// begins within startReach of the written start. Cents are how far each reed is
// from its note after the recording's tuning, NaN where it can't be measured.
//
// Confidence is the probability that the event is right. Same is the event that a
// transcription of the recording would write in its place, if it is the same: then its
// confidence, its doubts and its other readings are the judgement. Of other events the
// confidence is never more than what the posterior leaves it over its time, so that an event
// whose reed does not sound can't be sure, and Instead is what the recording suggests for
// the time of the event, nil for silence or where it agrees; Silent tells the one from the
// other.
type Judgement struct {
	Heard      bool // the event lies in the section that was heard, on rows that the ear has
	Sounds     float64
	Start      float64 // seconds from the start of the recording
	Cents      []float64
	Confidence float64
	Same       *tab.Event
	Instead    *tab.Event
	Silent     bool
}

// startReach is how far in frames from its written start an event is looked for
// (0.15 s).
const startReach = 13

// LateSeconds is how far an event may start from where it is written.
const LateSeconds = 0.05

// Doubtful reports whether a recording leaves a written event in doubt: it is not sure
// of it, has something else or nothing there, or begins it at another time.
func (j Judgement) Doubtful(e tab.Event) bool {
	if j.Same != nil {
		return j.Same.Doubtful()
	}
	return j.Confidence < tab.SureFrom || j.Instead != nil || j.Silent ||
		!(math.Abs(j.Start-e.Start) <= LateSeconds)
}

// Verdict is what a recording says of a document: a judgement for each event, and
// the events that it suggests where nothing is written.
type Verdict struct {
	Judgements  []Judgement
	Missed      []tab.Event
	TuningCents float64
}

// addedPrior is the log weight of a state that only the document has, such as a
// chord with a hole left out.
const addedPrior = -3

// Admitting is a reader with a state for every event of a document.
func Admitting(r reading.Reader, events []tab.Event) reading.Reader {
	for _, e := range events {
		r.States = r.States.With(r.Harp, addedPrior, e.Actions)
	}
	return r
}

// Judge judges the events of a document that start in a window of which x was read, from
// where the reading counts and before until, both in seconds. Judgements of other events
// are as they were in v. What a transcription writes beside them is added by [Beside].
func Judge(r reading.Reader, x reading.Reading, from, until float64, events []tab.Event, v Verdict) Verdict {
	f := x.Frames
	v.Judgements = slices.Clone(v.Judgements)
	for i, e := range events {
		if e.Start >= max(from, f.Start) && e.Start < min(until, f.Time(f.N-1)) {
			v.Judgements[i] = judge(r, x, e)
		}
	}
	return v
}

// Beside holds a verdict against all that a transcription of the same recording would write,
// and what it leaves out since no harp seems to play it, both by start.
func Beside(h harp.Harp, v Verdict, events, written, leftOut []tab.Event) Verdict {
	v.Judgements = slices.Clone(v.Judgements)
	all := slices.Concat(written, leftOut)
	same := sameAs(h, events, all)
	for i := range events {
		j := &v.Judgements[i]
		if !j.Heard {
			continue
		}
		if k := same[i]; k >= 0 {
			j.Same, j.Start, j.Confidence = &all[k], all[k].Start, all[k].Confidence
			continue
		}
		switch k := mostOf(written, events[i]); {
		case k < 0:
			j.Silent = true
		case !sameSound(h, written[k], events[i]):
			j.Instead = &written[k]
		}
	}
	for _, e := range written {
		if len(e.Actions) > 0 && covered(events, e.Start, e.End) < leastCovered {
			v.Missed = append(v.Missed, e)
		}
	}
	return v
}

// sameAs are for each event of a document the place of the one that is heard in the same
// place as the same, each used once, the nearest first; -1 for none.
func sameAs(h harp.Harp, events, heard []tab.Event) []int {
	type pair struct {
		i, k int
		off  float64
	}
	var pairs []pair
	for i, e := range events {
		for k, o := range heard {
			// Both are told to the millisecond.
			if off := math.Abs(o.Start - e.Start); off <= LateSeconds+0.0005 && sameSound(h, e, o) {
				pairs = append(pairs, pair{i, k, off})
			}
		}
	}
	slices.SortStableFunc(pairs, func(a, b pair) int { return cmp.Compare(a.off, b.off) })
	out, used := make([]int, len(events)), make([]bool, len(heard))
	for i := range out {
		out[i] = -1
	}
	for _, p := range pairs {
		if out[p.i] < 0 && !used[p.k] {
			out[p.i], used[p.k] = p.k, true
		}
	}
	return out
}

// sameSound reports whether two events sound the same on a harp, or, as far as it lacks
// them, to half a semitone.
func sameSound(h harp.Harp, a, b tab.Event) bool {
	if len(a.Actions) > 0 || len(b.Actions) > 0 {
		return len(a.Actions) > 0 && len(b.Actions) > 0 && compare.SameTab(h, a.Actions, b.Actions)
	}
	return slices.EqualFunc(a.Pitches, b.Pitches, func(x, y float64) bool { return math.Abs(x-y) < 0.5 })
}

// mostOf is which of some events has most of the time of another, -1 if none has any.
func mostOf(events []tab.Event, e tab.Event) int {
	best, most := -1, 0.0
	for k, o := range events {
		if shared := min(o.End, e.End) - max(o.Start, e.Start); shared > most {
			best, most = k, shared
		}
	}
	return best
}

// leastCovered is the share of a sounding event's time from which it counts as
// written.
const leastCovered = 0.3

// covered is the share of a stretch that written events take up, at most 1.
func covered(events []tab.Event, from, to float64) float64 {
	sum := 0.0
	for _, e := range events {
		sum += max(0, min(e.End, to)-max(e.Start, from))
	}
	return min(1, sum/(to-from))
}

// judge one event.
func judge(r reading.Reader, x reading.Reading, e tab.Event) Judgement {
	j := Judgement{Start: math.NaN()}
	f, p := x.Frames, x.Posterior
	state := stateOf(r, e, f.Axis.Cents)
	if state < 0 {
		return j
	}
	j.Heard = true
	same := r.States.SameSound(state)
	s := lattice.Span{State: state, From: f.Nearest(e.Start), To: f.Nearest(e.End)}
	if from, start, ok := beginNear(r, x, same, s); ok {
		s.From, j.Start = from, start
	}
	s.To = min(max(s.To, s.From+lattice.MinFrames), f.N)
	s.From = min(s.From, s.To-1)
	s.Found = s.From
	j.Sounds = 1
	for _, row := range r.States[state].Rows {
		j.Sounds = min(j.Sounds, reading.MeanSounding(f, row, s))
		j.Cents = append(j.Cents, deviation(f, row, s))
	}
	asked := r.Asked(x.Sound, s, x.Near)
	shares, share := r.Shares(p, asked), 0.0
	for _, i := range same {
		share += shares[i]
	}
	j.Confidence = min(share, r.Confidence(f, p, asked))
	if k := mostShared(x.Spans, s); k >= 0 && x.Spans[k].Parted && slices.Contains(same, x.Spans[k].State) {
		j.Confidence = x.Confidences[k] // the posterior knows of the whole only
	}
	return j
}

// mostShared is the span that has most of the time of another, -1 if none has any.
func mostShared(spans []reading.Span, s lattice.Span) int {
	best, most := -1, 0
	for k, o := range spans {
		if shared := min(o.To, s.To) - max(o.From, s.From); shared > most {
			best, most = k, shared
		}
	}
	return best
}

// stateOf a written event, -1 if there is none. One that the harp can't play is
// the row of its first pitch.
func stateOf(r reading.Reader, e tab.Event, cents float64) int {
	if len(e.Actions) > 0 {
		return r.States.Playing(e.Actions)
	}
	if len(e.Pitches) == 0 {
		return -1
	}
	axis := pitch.Axis{Base: r.Harp.Base}
	return r.States.Sounding(axis.Row(int(math.Round(e.Pitches[0] - cents/100))))
}

// leastBegun is the probability of a begin from which an event begins there.
const leastBegun = 0.03

// beginNear is the frame at which a written event of one of some states begins, and when it
// is heard to start: that of the span of these states which is heard to start nearest, or
// else where one of them most likely begins; false if nothing does within startReach of the
// written start.
func beginNear(r reading.Reader, x reading.Reading, states []int, written lattice.Span) (int, float64, bool) {
	f := x.Frames
	best, most := -1, startReach+1
	for i, s := range x.Spans {
		off := f.At(r.HeardStart(f, r.Bare(f, s.Span))) - written.From
		if off = max(off, -off); slices.Contains(states, s.State) && off < most {
			best, most = i, off
		}
	}
	if best >= 0 {
		s := x.Spans[best].Span
		return s.From, r.HeardStart(f, r.Bare(f, s)), true
	}
	at := likelyBegin(x.Posterior, states, written.From)
	if at < 0 {
		return 0, 0, false
	}
	return at, f.Time(at), true
}

// likelyBegin is the frame within startReach of frame at where one of the states
// most likely begins, -1 if none does. Of equals the nearest wins.
func likelyBegin(p lattice.Posterior, states []int, at int) int {
	best, most := -1, leastBegun
	for d := range startReach + 1 {
		for _, k := range []int{at - d, at + d} {
			if x := p.Begins(states, k, 1); k >= 0 && k < p.Frames() && x > most+1e-6 {
				best, most = k, x
			}
		}
	}
	if best < 0 {
		return -1
	}
	// Of the frames that say the same, the one that begins most itself.
	top := best
	for k := max(0, best-1); k <= min(p.Frames()-1, best+1); k++ {
		if p.Begins(states, k, 0) > p.Begins(states, top, 0) {
			top = k
		}
	}
	return top
}

// deviation is how far in cents a row is from its own frequency over a span, NaN
// where it can't be measured.
func deviation(f pitch.Frames, row int, s lattice.Span) float64 {
	for k := s.From; k < s.To; k++ {
		if !math.IsNaN(float64(f.Cents[k*pitch.Rows+row])) {
			return 100*(reading.PitchOf(f, row, s)-f.Axis.MIDI(row)) - f.Axis.Cents
		}
	}
	return math.NaN()
}

// Overbent reports whether a document has overblows or overdraws.
func Overbent(events []tab.Event) bool {
	return slices.ContainsFunc(events, func(e tab.Event) bool {
		return slices.ContainsFunc(e.Actions, func(a harp.Action) bool { return a.Bend < 0 })
	})
}
