package tabber

import (
	"context"
	"math"
	"slices"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// Judgement is what a recording says of one written event. Sounds is the
// probability, over the event's own time, that the reed sounds which least does.
// Start is where the event begins in the recording, NaN where nothing like it
// begins within startReach of the written start. Cents are how far each reed is
// from its note after the recording's tuning, NaN where it can't be measured.
//
// Confidence is the probability that the event is right. It is never more than
// what the posterior leaves it over its time, so that an event whose reed does
// not sound can't be sure. Instead is what the recording suggests for the time
// of the event, nil for silence or where it agrees; Silent tells the one from
// the other.
type Judgement struct {
	Heard      bool // the event lies in the section that was heard, on rows that the ear has
	Sounds     float64
	Start      float64 // seconds from the start of the recording
	Cents      []float64
	Confidence float64
	Instead    *tab.Event
	Silent     bool
}

// startReach is how far in frames from its written start an event is looked for
// (0.15 s).
const startReach = 13

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

// Judge scores the events of a document for the transcriber's harp against a
// recording: all of s, which must have been opened at pitch.Rate and begin from
// seconds into the recording. When the context is done it stops with the
// context's error.
func (t *Transcriber) Judge(ctx context.Context, s *decode.Stream, from float64, events []tab.Event) (Verdict, error) {
	w := &window{stream: s, start: from, full: windowSeconds * pitch.Rate}
	return t.admitting(events).judge(ctx, w, events)
}

func (t *Transcriber) judge(ctx context.Context, w *window, events []tab.Event) (Verdict, error) {
	v := Verdict{Judgements: make([]Judgement, len(events)), TuningCents: math.NaN()}
	if t.opt.Tuning != nil {
		v.TuningCents = *t.opt.Tuning
	}
	from, past := w.start, always
	for {
		if err := ctx.Err(); err != nil {
			return v, err
		}
		if err := w.fill(); err != nil {
			return v, err
		}
		cents := v.TuningCents
		f := t.hearWindow(w, nil, &cents)
		cut := math.Inf(1)
		if !w.ended {
			cut = w.joint(f, events)
		}
		var heard bool
		if past, heard = t.judgeWindow(w.clip(), f, events, past, cut, &v); heard {
			v.TuningCents = cents
		}
		if t.opt.Progress != nil {
			t.opt.Progress(w.end() - from)
		}
		if w.ended {
			break
		}
		w.drop(cut-settleSeconds, f)
	}
	if math.IsNaN(v.TuningCents) {
		v.TuningCents = 0
	}
	return v, nil
}

// judgeWindow judges the events that start after the past, but before a time in
// seconds. It returns what is past then, and whether any notes were heard.
func (t *Transcriber) judgeWindow(c decode.Clip, f pitch.Frames, events []tab.Event, past nearby, to float64, v *Verdict) (nearby, bool) {
	from := past.from
	spans, n, p := t.decide(c, f, past)
	confidences := t.confidences(f, p, spans, n)
	for i, e := range events {
		if e.Start >= max(from, f.Start) && e.Start < min(to, f.Time(f.N-1)) {
			v.Judgements[i] = t.judgeEvent(c, f, p, spans, confidences, n, e)
		}
	}
	for k, s := range spans {
		start, stop := f.Time(s.from), f.Time(s.to)
		if start >= from && start < to && covered(events, start, stop) < leastCovered && len(t.states[s.state].actions) > 0 {
			v.Missed = append(v.Missed, t.event(f, p, s, confidences[k]))
		}
	}
	return n.until(to), len(spans) > 0
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

func (t *Transcriber) judgeEvent(c decode.Clip, f pitch.Frames, p posterior, spans []span, confidences []float64, n nearby, e tab.Event) Judgement {
	j := Judgement{Start: math.NaN()}
	state := t.stateOf(e, f.Axis.Cents)
	if state < 0 {
		return j
	}
	j.Heard = true
	same := t.sameSound(state)
	s := span{state: state, from: frameAt(f, e.Start), to: frameAt(f, e.End)}
	if at := beginNear(p, same, s.from); at >= 0 {
		j.Start = f.Time(at)
		s.from = at
	}
	s.to = min(max(s.to, s.from+minFrames), f.N)
	s.from = min(s.from, s.to-1)
	s.found = s.from
	j.Sounds = 1
	for _, r := range t.states[state].rows {
		j.Sounds = min(j.Sounds, meanOver(f.Sounding, pitch.Rows, r, s))
		j.Cents = append(j.Cents, deviation(f, r, s))
	}
	s.octave = t.octaveOdds(c, f, s, n.asked)
	shares, share := t.shares(p, s), 0.0
	for _, i := range same {
		share += shares[i]
	}
	j.Confidence = min(share, t.confidences(f, p, []span{s}, n)[0])
	best, most := -1, 0
	for k, o := range spans {
		if shared := min(o.to, s.to) - max(o.from, s.from); shared > most {
			best, most = k, shared
		}
	}
	switch {
	case best < 0:
		j.Silent = true
	case !slices.Contains(same, spans[best].state):
		instead := t.event(f, p, spans[best], confidences[best])
		j.Instead = &instead
	}
	return j
}

// admitting is the transcriber with a state for every event of a document.
func (t *Transcriber) admitting(events []tab.Event) *Transcriber {
	wider := *t
	wider.states = slices.Clone(t.states)
	for _, e := range events {
		if len(e.Actions) == 0 || wider.stateOf(e, 0) >= 0 {
			continue
		}
		s := state{actions: e.Actions, prior: addedPrior, breath: 1 + int(e.Actions[0].Breath)}
		for _, a := range e.Actions {
			r := row(t.harp, a)
			if r < 0 || r >= pitch.Rows {
				s.rows = nil
				break
			}
			s.rows = append(s.rows, r)
			s.hole += float64(a.Hole) / float64(len(e.Actions))
		}
		if s.rows != nil {
			wider.states = append(wider.states, s)
		}
	}
	return &wider
}

// stateOf a written event, -1 if there is none. One that the harp can't play is
// the row of its first pitch.
func (t *Transcriber) stateOf(e tab.Event, cents float64) int {
	if len(e.Actions) > 0 {
		return slices.IndexFunc(t.states, func(s state) bool { return slices.Equal(s.actions, e.Actions) })
	}
	if len(e.Pitches) == 0 {
		return -1
	}
	r := int(math.Round(e.Pitches[0]-cents/100)) - t.harp.Base + pitch.RowBelow
	return slices.IndexFunc(t.states, func(s state) bool { return len(s.rows) == 1 && s.rows[0] == r })
}

// frameAt is the frame nearest to a time.
func frameAt(f pitch.Frames, seconds float64) int {
	return min(max(int(math.Round((seconds-f.Start)/pitch.HopSeconds)), 0), f.N-1)
}

// beginNear is the frame within startReach of frame at where one of the states
// most likely begins, -1 if none does. Of equals the nearest wins.
func beginNear(p posterior, states []int, at int) int {
	best, most := -1, leastShare
	for d := range startReach + 1 {
		for _, k := range []int{at - d, at + d} {
			if x := p.begins(states, k, 1); k >= 0 && k < len(p.begin)/p.s && x > most+1e-6 {
				best, most = k, x
			}
		}
	}
	if best < 0 {
		return -1
	}
	// Of the frames that say the same, the one that begins most itself.
	top := best
	for k := max(0, best-1); k <= min(len(p.begin)/p.s-1, best+1); k++ {
		if p.begins(states, k, 0) > p.begins(states, top, 0) {
			top = k
		}
	}
	return top
}

// meanOver is the mean of value i of rows of the given width over the core of a
// span.
func meanOver(x []float32, width, i int, s span) float64 {
	lo, hi := core(s)
	sum := 0.0
	for k := lo; k < hi; k++ {
		sum += float64(x[k*width+i])
	}
	return sum / float64(hi-lo)
}

// deviation is how far in cents a row is from its own frequency over a span, NaN
// where it can't be measured.
func deviation(f pitch.Frames, r int, s span) float64 {
	for k := s.from; k < s.to; k++ {
		if !math.IsNaN(float64(f.Cents[k*pitch.Rows+r])) {
			return 100*(measured(f, r, s)-float64(f.Axis.Base+r-pitch.RowBelow)) - f.Axis.Cents
		}
	}
	return math.NaN()
}

// Overbent reports whether a document has overblows or overdraws, for
// [Options].Overbends.
func Overbent(events []tab.Event) bool {
	for _, e := range events {
		if slices.ContainsFunc(e.Actions, func(a harp.Action) bool { return a.Bend < 0 }) {
			return true
		}
	}
	return false
}
