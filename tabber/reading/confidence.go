package reading

import (
	_ "embed"
	"slices"

	"blowdraw/decode/logistic"
	"blowdraw/pitch"
	"blowdraw/tabber/lattice"
)

// What the lattice believes of its own choice is too sure of itself: frames beside each other
// are not independent evidence, and a band misleads the ear in the same way for as long as a
// chord lasts. So a logistic model (Platt 1999, "Probabilistic outputs for support vector
// machines") maps a few things that speak for or against an event that the harp plays to how
// often such events were right (package presence says how surely it does). It is fitted on
// clips of the hard set, of ordinary playing and of the ear's training program, never on the
// bench (blowdraw-lab fit confidence), and judged on others by the share that is right of what
// it calls sure and by expected calibration error (Guo et al. 2017, "On calibration of modern
// neural networks").

// Cues of confidence, by their places in what [Reader.ConfidenceCues] gives.
// Probabilities count as log odds within ±oddsMost. The core is the span without its
// first and last edgeFrames.
//
// What made clips teach otherwise than recordings of players would is left out: how far off
// its pitch a reed is, how clearly it is attacked in general, whether there is one reed or
// two, whether an event is a part of what was found, what is in doubt around it.
const (
	cueBegins    = iota // posterior: the state begins within onsetFrames of the begin that the search found
	cueCounted          // the ear's count of reeds agrees, mean over the core
	cueCompanion        // surest row, by mean over the core, that would make another playable event of this one
	cueStands           // its own partials against the whole, mean over the core in tens of dB
	cueChord            // 1 for three reeds and more, else 0
	cueOctave           // log odds of its side of the question of an octave, oddsMost where there is none
	cueWeakest          // the ear's probability of its weakest row, mean over the core
	cueFourth           // 1 for four reeds and more, else 0
	cueAgain            // where the same sounds just before: 1 less its surest row's attack, else 0
	confidenceCues
)

// ConfidenceCues names the cues of confidence.
var ConfidenceCues = []string{
	"begins", "counted", "companion", "stands", "chord", "octave", "weakest", "fourth", "again",
}

const (
	oddsMost    = 6.0 // 99.75 %
	onsetFrames = 4   // an event begins here if it begins within 46 ms
	againFrames = 6   // frames of silence (70 ms) after which the same is no longer begun again
)

//go:embed confidence.json
var confidenceFile []byte

func confidenceModel() logistic.Model { return logistic.MustRead(confidenceFile, ConfidenceCues) }

func odds(p float64) float64 { return logistic.Odds(p, oddsMost) }

// confidences of the spans of one window: probabilities. The classical ear,
// which does not tell the number of reeds, has the posterior alone; so
// has a sound that the harp cannot play.
func (r Reader) confidences(f pitch.Frames, p lattice.Posterior, spans []Span) []float64 {
	out := make([]float64, len(spans))
	for i, s := range spans {
		if f.Count == nil || len(r.States[s.State].Actions) == 0 {
			out[i] = p.Begins(r.States.SameSound(s.State), s.Found, onsetFrames)
			continue
		}
		out[i] = r.models.confidence.Probability(r.ConfidenceCues(f, p, spans, i))
	}
	return out
}

// Confidence of one span by itself, whatever comes before it.
func (r Reader) Confidence(f pitch.Frames, p lattice.Posterior, s Span) float64 {
	return r.confidences(f, p, []Span{s})[0]
}

// ConfidenceCues are what speaks for or against span i of an ear that counts reeds.
func (r Reader) ConfidenceCues(f pitch.Frames, p lattice.Posterior, spans []Span, i int) []float64 {
	x := make([]float64, confidenceCues)
	s := spans[i]
	st := r.States[s.State]
	x[cueBegins] = odds(p.Begins(r.States.SameSound(s.found()), s.Found, onsetFrames))
	var sounding [pitch.Rows]float64 // mean over the core
	lo, hi := core(s.Span)
	frames := float64(hi - lo)
	for k := lo; k < hi; k++ {
		for row := range sounding {
			sounding[row] += float64(f.Sounding[k*pitch.Rows+row]) / frames
		}
		x[cueCounted] += odds(float64(f.Count[k][min(len(st.Rows), pitch.MostCounted)])) / frames
		x[cueStands] += (f.LoudOf(st.Rows, k) - float64(f.Level[k])) / 10 / frames
	}
	weakest, beside := 1.0, 0.0
	for _, row := range st.Rows {
		weakest = min(weakest, sounding[row])
	}
	for row, v := range sounding {
		if v > beside && r.States.Has(row, st) {
			beside = v
		}
	}
	x[cueCompanion], x[cueWeakest] = odds(beside), odds(weakest)
	x[cueOctave] = odds(r.octaveSide(s))
	if len(st.Rows) > 2 {
		x[cueChord] = 1
	}
	if len(st.Rows) > 3 {
		x[cueFourth] = 1
	}
	if i > 0 && r.goesOn(spans[i-1], s) {
		x[cueAgain] = 1 - attackOf(f, st.Rows, s.Found)
	}
	return x
}

// goesOn reports whether s is the same as the span before it, and follows it at once.
func (r Reader) goesOn(before, s Span) bool {
	return s.From-before.To < againFrames && slices.Contains(r.States.SameSound(s.State), before.State)
}

// attackOf is the greatest probability that one of the rows is attacked near a frame.
func attackOf(f pitch.Frames, rows []int, at int) float64 {
	top := 0.0
	for _, row := range rows {
		top = max(top, attackNear(f, row, at))
	}
	return top
}
