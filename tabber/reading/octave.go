package reading

import (
	_ "embed"
	"slices"

	"blowdraw/decode/logistic"
	"blowdraw/decode/parallel"
	"blowdraw/pitch"
	"blowdraw/pitch/partials"
	"blowdraw/tabber/lattice"
)

// One reed, or an octave? The upper reed of an octave hides in the even partials of
// the lower one. A reed's tone is strictly periodic (Fletcher & Rossing, "The Physics of
// Musical Instruments"; from memory), also through an amplifier, so its partials keep step
// in phase; two reeds never are in tune to a tenth of a cent, and the even partials go
// astray from the odd ones (package partials; phase coupling as in the bispectrum, Kim &
// Powers 1979). The ear looks at spectra frame by frame and takes an octave for a bright
// single reed; over the whole note partials tell more. So after the search each natural
// note that could as well be an octave, and each octave, is asked again: a logistic model
// weighs what the ear heard, what the partials do, and what they do in other notes near it
// (see Nearby), above all those on the same reed. It is fitted by blowdraw-lab fit octave,
// again when the ear's weights or the lattice's method change.

// Cues of an octave, by their places in Question.Cues.
const (
	cueUpperSounds   = iota // ear: log odds that the upper row sounds, mean over the core
	cueUpperAttacked        // ear: log odds that it is attacked, at its best near the start
	cueTwoCounted           // ear: log odds of two reeds, mean over the core
	cueEvenAstray           // the partials: see partials.Signs
	cueOddAstray
	cueEvenMiddle
	cueOddMiddle
	cueEvenLevel
	cueSecond
	cueUsualOdd  // near it: median of cueOddAstray over all notes that are asked
	cueElsewhere // 1 if other notes are heard on the same lower reed, else 0
	cueOwnLevel  // cueEvenLevel above the median of those, 0 without any
	octaveCues
)

// OctaveCues names the cues of an octave.
var OctaveCues = []string{
	"upperSounds", "upperAttacked", "twoCounted", "evenAstray", "oddAstray", "evenMiddle", "oddMiddle",
	"evenLevel", "second", "usualOdd", "elsewhere", "ownLevel",
}

//go:embed octave.json
var octaveFile []byte

func octaveModel() logistic.Model { return logistic.MustRead(octaveFile, OctaveCues) }

// speaking is how long after its start a note's partials are measured, in seconds.
const speaking = 0.05

// Question is whether a span is an octave or its lower reed alone.
type Question struct {
	Times
	Span      int // its number
	Low, Both int // states
	Cues      []float64
}

// odds are the log odds of an octave.
func (r Reader) odds(q Question) float64 {
	return min(max(r.models.octave.Odds(q.Cues), -oddsMost), oddsMost)
}

// ask asks the question for each span and decides: what comes back has the answers. With
// it comes what is near for the next window.
func (r Reader) ask(x Sound, spans []lattice.Span, past Nearby) (asked []Span, near Nearby) {
	asked = make([]Span, len(spans))
	for i, s := range spans {
		asked[i].Span = s
	}
	questions, all := r.Questions(x, spans, past)
	for _, q := range questions {
		s := &asked[q.Span]
		s.Octave = r.odds(q)
		switch {
		case s.Octave > 0:
			s.State = q.Both
		case s.Octave < 0:
			s.State = q.Low
		}
	}
	return asked, Nearby{From: past.From, asked: all}
}

// Questions that the spans of one window pose, with all their cues, and all that
// count for these: past ones, and those of the window that are not past.
func (r Reader) Questions(x Sound, spans []lattice.Span, past Nearby) (asked, all []Question) {
	posed := make([]*Question, len(spans))
	parallel.Each(len(spans), func(_, i int) {
		if q, ok := r.question(x, spans[i]); ok {
			q.Span = i
			posed[i] = &q
		}
	})
	all = slices.Clone(past.asked)
	for _, q := range posed {
		if q == nil {
			continue
		}
		asked = append(asked, *q)
		if q.Start >= past.From {
			all = append(all, *q)
		}
	}
	for i := range asked {
		asked[i].Cues = r.compared(asked[i], all)
	}
	return asked, all
}

// question that a span poses, without what other notes say; false if it poses none
// or is too short to tell.
func (r Reader) question(x Sound, s lattice.Span) (q Question, ok bool) {
	f, c := x.Frames, x.Clip
	low, both, ok := r.States.OctaveOf(s.State)
	if !ok || f.Count == nil {
		return q, false
	}
	from := int((f.Time(s.From) + speaking - c.Start) * pitch.Rate)
	to := min(int((f.Time(s.To)-c.Start)*pitch.Rate), len(c.Samples))
	if from < 0 || from >= to {
		return q, false
	}
	row := r.States[low].Rows[0]
	tone, ok := partials.Measure(c.Samples[from:to], pitch.MIDIToHz(PitchOf(f, row, s)))
	if !ok {
		return q, false
	}
	q = Question{Times: timesOf(f, s), Low: low, Both: both, Cues: make([]float64, octaveCues)}
	q.Cues[cueUpperSounds] = odds(MeanSounding(f, row+12, s))
	q.Cues[cueUpperAttacked] = odds(attackNear(f, row+12, s.From))
	lo, hi := core(s)
	for k := lo; k < hi; k++ {
		q.Cues[cueTwoCounted] += odds(float64(f.Count[k][2])) / float64(hi-lo)
	}
	g := tone.Signs()
	q.Cues[cueEvenAstray], q.Cues[cueOddAstray] = g.EvenAstray, g.OddAstray
	q.Cues[cueEvenMiddle], q.Cues[cueOddMiddle] = g.EvenMiddle, g.OddMiddle
	q.Cues[cueEvenLevel], q.Cues[cueSecond] = g.EvenLevel, g.Second
	return q, true
}

// compared are the cues of a question beside all that are near, itself left out.
func (r Reader) compared(q Question, all []Question) []float64 {
	var odd, even []float32
	for _, o := range all {
		if !q.near(o.Times) {
			continue
		}
		odd = append(odd, float32(o.Cues[cueOddAstray]))
		if !q.same(o.Times) && r.States[o.Low].Rows[0] == r.States[q.Low].Rows[0] {
			even = append(even, float32(o.Cues[cueEvenLevel]))
		}
	}
	x := slices.Clone(q.Cues)
	x[cueUsualOdd] = x[cueOddAstray]
	if len(odd) > 0 {
		x[cueUsualOdd] = pitch.Percentile(odd, 0.5)
	}
	if len(even) > 0 {
		x[cueElsewhere], x[cueOwnLevel] = 1, x[cueEvenLevel]-pitch.Percentile(even, 0.5)
	}
	return x
}

// octaveSide is the probability of a span's side of the question, by its odds; 1
// where there is no question.
func (r Reader) octaveSide(s Span) float64 {
	if s.Octave == 0 {
		return 1
	}
	p := logistic.Probability(s.Octave)
	if low, _, ok := r.States.OctaveOf(s.State); ok && s.State == low {
		return 1 - p
	}
	return p
}

// Asked is a span with its question answered, beside the questions near it.
func (r Reader) Asked(x Sound, s lattice.Span, n Nearby) Span {
	out := Span{Span: s}
	if q, ok := r.question(x, s); ok {
		q.Cues = r.compared(q, n.asked)
		out.Octave = r.odds(q)
	}
	return out
}

// UsualAstray is how far the odd partials of what is near usually stray, as in
// partials.Signs; 0 if nothing was measured.
func (n Nearby) UsualAstray() float64 {
	var odd []float32
	for _, q := range n.asked {
		odd = append(odd, float32(q.Cues[cueOddAstray]))
	}
	if len(odd) == 0 {
		return 0
	}
	return pitch.Percentile(odd, 0.5)
}
