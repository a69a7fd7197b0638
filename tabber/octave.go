package tabber

import (
	"math"
	"slices"

	"blowdraw/decode"
	"blowdraw/decode/parallel"
	"blowdraw/pitch"
	"blowdraw/pitch/partials"
)

// One reed, or an octave? The upper reed of an octave hides in the even partials of
// the lower one. The ear looks at spectra frame by frame and takes it for a bright
// single reed; over the whole note partials tell more (package partials). So after
// the search each natural note that could as well be an octave, and each octave, is
// asked again: a logistic model weighs what the ear heard, what the partials do, and
// what they do in other notes near it (see nearby), above all those on the same reed.
// It is fitted like the confidence, on other clips than those it is judged by:
// octave_fit_test.go.

// octaveFeature is one thing that speaks for or against a second reed an octave
// above.
type octaveFeature int

const (
	upperSounds   octaveFeature = iota // ear: log odds that the upper row sounds, mean over the core
	upperAttacked                      // ear: log odds that it is attacked, at its best near the start
	twoCounted                         // ear: log odds of two reeds, mean over the core
	evenAstray                         // the partials: see partials.Signs
	oddAstray
	evenMiddle
	oddMiddle
	evenLevel
	second
	usualOdd       // near it: median of oddAstray over all notes that are asked
	elsewhere      // 1 if other notes are heard on the same lower reed, else 0
	ownLevel       // evenLevel above the median of those, 0 without any
	octaveFeatures // how many there are
)

type octaveModel struct {
	constant float64
	weight   [octaveFeatures]float64
}

// odds are the log odds of an octave.
func (m *octaveModel) odds(x [octaveFeatures]float64) float64 {
	z := m.constant
	for i, v := range x {
		z += m.weight[i] * v
	}
	return min(max(z, -oddsMost), oddsMost)
}

// decisive are the log odds from which the answer overrules the search.
const decisive = 1

// settling is how long after its start a note's partials are measured, in seconds.
const settling = 0.05

// question is a span that is an octave or its lower reed alone.
type question struct {
	when
	span      int // its number, -1 for one that is not among the spans
	low, both int // states
	x         [octaveFeatures]float64
}

// octaves asks the question for each span and decides: spans are changed in place.
// It returns the questions, those of the past that they were weighed with first.
func (t *Transcriber) octaves(c decode.Clip, f pitch.Frames, spans []span, past nearby) []question {
	asked, all := t.questions(c, f, spans, past)
	for _, q := range asked {
		s := &spans[q.span]
		s.octave = learnedOctave.odds(q.x)
		switch {
		case s.octave > decisive:
			s.state = q.both
		case s.octave < -decisive:
			s.state = q.low
		}
	}
	return all
}

// questions that the spans of one window pose, with all their features, and all that
// count for these: past ones, and those of the window that are not past.
func (t *Transcriber) questions(c decode.Clip, f pitch.Frames, spans []span, past nearby) (asked, all []question) {
	posed := make([]question, len(spans))
	parallel.Each(len(spans), func(_, i int) {
		q, ok := t.question(c, f, spans[i])
		if q.span = i; !ok {
			q.span = -1
		}
		posed[i] = q
	})
	asked = slices.DeleteFunc(posed, func(q question) bool { return q.span < 0 })
	all = slices.Clone(past.asked)
	for _, q := range asked {
		if q.start >= past.from {
			all = append(all, q)
		}
	}
	for i := range asked {
		t.compare(&asked[i], all)
	}
	return asked, all
}

// question that a span poses, without what other notes say; false if it poses none
// or is too short to tell.
func (t *Transcriber) question(c decode.Clip, f pitch.Frames, s span) (q question, ok bool) {
	low, both := t.octaveOf(s.state)
	if low < 0 || f.Count == nil {
		return q, false
	}
	q = question{when: whenOf(f, s), span: -1, low: low, both: both}
	from := int((f.Time(s.from) + settling - c.Start) * pitch.Rate)
	to := min(int((f.Time(s.to)-c.Start)*pitch.Rate), len(c.Samples))
	if from < 0 || from >= to {
		return q, false
	}
	r := t.states[low].rows[0]
	tone, ok := partials.Measure(c.Samples[from:to], pitch.MIDIToHz(measured(f, r, s)))
	if !ok {
		return q, false
	}
	q.x[upperSounds] = odds(meanOver(f.Sounding, pitch.Rows, r+12, s))
	q.x[upperAttacked] = odds(attack(f, r+12, s.from))
	lo, hi := core(s)
	for k := lo; k < hi; k++ {
		q.x[twoCounted] += odds(float64(f.Count[k][2])) / float64(hi-lo)
	}
	g := tone.Signs()
	q.x[evenAstray], q.x[oddAstray] = g.EvenAstray, g.OddAstray
	q.x[evenMiddle], q.x[oddMiddle] = g.EvenMiddle, g.OddMiddle
	q.x[evenLevel], q.x[second] = g.EvenLevel, g.Second
	return q, true
}

// compare a question with all that are near, itself left out.
func (t *Transcriber) compare(q *question, all []question) {
	var odd, even []float32
	for i := range all {
		o := &all[i]
		if !q.near(o.when) {
			continue
		}
		odd = append(odd, float32(o.x[oddAstray]))
		if !q.same(o.when) && t.states[o.low].rows[0] == t.states[q.low].rows[0] {
			even = append(even, float32(o.x[evenLevel]))
		}
	}
	q.x[usualOdd] = q.x[oddAstray]
	if len(odd) > 0 {
		q.x[usualOdd] = pitch.Percentile(odd, 0.5)
	}
	if len(even) > 0 {
		q.x[elsewhere], q.x[ownLevel] = 1, q.x[evenLevel]-pitch.Percentile(even, 0.5)
	}
}

// octaveSide is the probability of a span's side of the question, by its odds; 1
// where there is no question.
func (t *Transcriber) octaveSide(s span) float64 {
	if s.octave == 0 {
		return 1
	}
	p := 1 / (1 + math.Exp(-s.octave))
	if low, _ := t.octaveOf(s.state); s.state == low {
		return 1 - p
	}
	return p
}

// octaveOdds are the log odds that a span is an octave rather than its lower reed
// alone, beside the questions near it; 0 where that is no question or can't
// be told.
func (t *Transcriber) octaveOdds(c decode.Clip, f pitch.Frames, s span, all []question) float64 {
	q, ok := t.question(c, f, s)
	if !ok {
		return 0
	}
	t.compare(&q, all)
	return learnedOctave.odds(q.x)
}

// octaveOf are the states of a natural note and of the octave above it that a state
// is one of, -1 if it is neither. A note that is also another hole's, as draw 2 is
// blow 3, may be the lower one of an octave by either name.
func (t *Transcriber) octaveOf(i int) (low, both int) {
	st := &t.states[i]
	switch {
	case len(st.actions) == 1 && st.actions[0].Bend == 0:
		return octave(i, slices.IndexFunc(t.states, func(o state) bool { return o.isOctave() && o.rows[0] == st.rows[0] }))
	case st.isOctave():
		low := -1
		for j, o := range t.states {
			if len(o.actions) == 1 && o.actions[0].Bend == 0 && o.rows[0] == st.rows[0] && (low < 0 || o.prior > t.states[low].prior) {
				low = j
			}
		}
		return octave(low, i)
	}
	return -1, -1
}

// octave is a pair of states, -1 and -1 if either is missing.
func octave(low, both int) (int, int) {
	if low < 0 || both < 0 {
		return -1, -1
	}
	return low, both
}

// isOctave reports whether a state is two reeds an octave apart.
func (s *state) isOctave() bool {
	return len(s.actions) == 2 && s.rows[1]-s.rows[0] == 12
}

// learnedOctave goes with the ear's weights: fit it again when they change.
var learnedOctave = octaveModel{
	constant: -1.340,
	weight: [octaveFeatures]float64{
		upperSounds:   0.644,
		upperAttacked: 0.478,
		twoCounted:    -0.204,
		evenAstray:    1.348,
		oddAstray:     -1.064,
		evenMiddle:    2.086,
		oddMiddle:     -1.033,
		evenLevel:     0.001,
		second:        0.030,
		usualOdd:      -1.040,
		elsewhere:     0.800,
		ownLevel:      0.403,
	},
}
