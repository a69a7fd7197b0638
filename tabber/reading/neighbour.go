package reading

import (
	_ "embed"
	"math"
	"slices"

	"blowdraw/decode/logistic"
	"blowdraw/decode/parallel"
	"blowdraw/pitch"
	"blowdraw/pitch/partials"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/lattice"
)

// A reed too many, or a reed too few? The search weighs each frame as evidence of its own,
// so a neighbour that bleeds in weakly all the time, or the octave partial of a chord's low
// reed, which lies where the chord's outer reed would, adds up to certainty. So after the
// search the outer reeds of neighbours, and those beside them, are asked for again over the
// whole event: a logistic model weighs what the ear heard of the reed, its level against
// the others, and, where another one lies an octave away, what the partials do (see octave.go).
// It is fitted by blowdraw-lab fit neighbour, again when the ear's weights or the lattice's
// method change.

// Cues of a neighbour, by their places in Neighbour.Cues.
const (
	cueSounds     = iota // ear: log odds that its row sounds, mean over the core
	cueOften             // share of the core in which it rather sounds than not
	cueStruck            // ear: log odds that it is attacked, at its best near the start
	cueOneMore           // ear: log odds of so many reeds against one less, mean over the core
	cueWeaker            // tens of dB that it is under the loudest of the others, at most leastLevel
	cueFound             // 1 if the search found it, else 0
	cueLow               // 1 if it lies below the others, else 0
	cueSecondReed        // 1 if there is one other, else 0
	cueFourthReed        // 1 if there are three others, else 0
	cueBrief             // log of seconds
	cueAbove             // 1 if it lies an octave above another one, else 0; then
	cueAboveEven         // how far even and odd partials of that one stray, and how loud the even ones are
	cueAboveOdd
	cueAboveLevel
	cueBelow // 1 if it lies an octave below another one, else 0; then
	cueBelowEven
	cueBelowOdd
	cueBelowLevel
	neighbourCues
)

// NeighbourCues names the cues of a neighbour.
var NeighbourCues = []string{
	"sounds", "often", "struck", "oneMore", "weaker", "found", "low", "secondReed", "fourthReed", "brief",
	"above", "aboveEven", "aboveOdd", "aboveLevel", "below", "belowEven", "belowOdd", "belowLevel",
}

const (
	leastLevel   = 4.0  // tens of dB under the others that count at most
	leastBeside  = 0.03 // mean probability from which a reed beside what was found is asked for
	mostSettled  = 2    // reeds of one span that are changed at most
	mostNaturals = 4    // reeds that are played side by side at most
)

//go:embed neighbour.json
var neighbourFile []byte

func neighbourModel() logistic.Model { return logistic.MustRead(neighbourFile, NeighbourCues) }

// Neighbour is the question whether a reed sounds with those beside it.
type Neighbour struct {
	Span          int // its number
	Reed          harp.Action
	With, Without int // states
	Cues          []float64
}

// Neighbours are the questions that spans of reeds side by side pose.
func (r Reader) Neighbours(x Sound, spans []lattice.Span) []Neighbour {
	parts := make([][]Neighbour, len(spans))
	parallel.Each(len(spans), func(_, i int) {
		for _, q := range r.neighboursOf(x, spans[i]) {
			q.Span = i
			parts[i] = append(parts[i], q)
		}
	})
	return slices.Concat(parts...)
}

// neighboursOf are the questions of one span: its outer reeds, and those beside them.
func (r Reader) neighboursOf(x Sound, s lattice.Span) (out []Neighbour) {
	if x.Frames.Count == nil || x.Frames.Loud == nil {
		return nil
	}
	all := r.States[s.State].Actions
	n := len(all)
	if n == 0 || all[n-1].Hole-all[0].Hole != n-1 {
		return nil
	}
	ask := func(reed harp.Action, with, without []harp.Action) {
		q := Neighbour{Reed: reed, With: r.States.Playing(with), Without: r.States.Playing(without)}
		if q.With < 0 || q.Without < 0 {
			return
		}
		row := lattice.Row(r.Harp, reed)
		if q.Without == s.State && MeanSounding(x.Frames, row, s) < leastBeside {
			return
		}
		q.Cues = r.neighbourCues(x, s, row, r.States[q.Without].Rows)
		if q.With == s.State {
			q.Cues[cueFound] = 1
		}
		out = append(out, q)
	}
	if n > 1 {
		ask(all[0], all, all[1:])
		ask(all[n-1], all, all[:n-1])
	}
	if n < mostNaturals {
		below := harp.Action{Breath: all[0].Breath, Hole: all[0].Hole - 1}
		above := harp.Action{Breath: all[0].Breath, Hole: all[n-1].Hole + 1}
		ask(below, slices.Concat([]harp.Action{below}, all), all)
		ask(above, slices.Concat(all, []harp.Action{above}), all)
	}
	return out
}

// neighbourCues are what tells whether a row sounds with others.
func (r Reader) neighbourCues(x Sound, s lattice.Span, row int, others []int) []float64 {
	f, c := x.Frames, make([]float64, neighbourCues)
	lo, hi := core(s)
	frames := float64(hi - lo)
	n := len(others)
	for k := lo; k < hi; k++ {
		p := float64(f.Sounding[k*pitch.Rows+row])
		c[cueSounds] += odds(p) / frames
		if p > 0.5 {
			c[cueOften] += 1 / frames
		}
		if n < pitch.MostCounted {
			more, less := float64(f.Count[k][n+1]), float64(f.Count[k][n])
			c[cueOneMore] += odds(more/max(more+less, 1e-6)) / frames
		}
	}
	c[cueStruck] = odds(attackNear(f, row, s.From))
	loudest := math.Inf(-1)
	for _, o := range others {
		loudest = max(loudest, f.UsualLoud([]int{o}, s.From, s.To))
	}
	c[cueWeaker] = min(max((loudest-f.UsualLoud([]int{row}, s.From, s.To))/10, -leastLevel), leastLevel)
	c[cueBrief] = math.Log(float64(s.To-s.From) * pitch.HopSeconds)
	for name, yes := range map[int]bool{
		cueLow: row < slices.Min(others), cueSecondReed: n == 1, cueFourthReed: n == 3,
	} {
		if yes {
			c[name] = 1
		}
	}
	if slices.Contains(others, row-12) {
		r.strays(x, s, row-12, c[cueAbove:cueBelow])
	}
	if slices.Contains(others, row+12) {
		r.strays(x, s, row, c[cueBelow:])
	}
	return c
}

// strays sets what the partials of a row do over a span: 1, and how far even and odd ones
// stray and how loud the even ones are; nothing where they can't be measured.
func (r Reader) strays(x Sound, s lattice.Span, row int, out []float64) {
	f, c := x.Frames, x.Clip
	from := int((f.Time(s.From) + speaking - c.Start) * pitch.Rate)
	to := min(int((f.Time(s.To)-c.Start)*pitch.Rate), len(c.Samples))
	if from < 0 || from >= to {
		return
	}
	tone, ok := partials.Measure(c.Samples[from:to], pitch.MIDIToHz(PitchOf(f, row, s)))
	if !ok {
		return
	}
	g := tone.Signs()
	out[0], out[1], out[2], out[3] = 1, g.EvenAstray, g.OddAstray, g.EvenLevel
}

// neighbourOdds are the log odds that the reed of a question sounds.
func (r Reader) neighbourOdds(q Neighbour) float64 {
	return min(max(r.models.neighbour.Odds(q.Cues), -oddsMost), oddsMost)
}

// settle decides about the neighbours of a span: as long as an answer speaks against what was
// found, that is changed, beginning with the surest. What comes
// back has the question that is left most in doubt.
func (r Reader) settle(x Sound, s Span) Span {
	for range mostSettled {
		best, to := 0.0, -1
		for _, q := range r.neighboursOf(x, s.Span) {
			z, other := r.neighbourOdds(q), q.With
			if s.State == q.With {
				z, other = -z, q.Without
			}
			if z > best {
				best, to = z, other
			}
		}
		if to < 0 {
			break
		}
		s.State = to
	}
	s.Beside = Beside{}
	least := math.Inf(1)
	for _, q := range r.neighboursOf(x, s.Span) {
		z, side := r.neighbourOdds(q), 1.0
		if s.State == q.Without {
			side = -1
		}
		if side*z < least {
			least, s.Beside = side*z, Beside{z, q.With, q.Without}
		}
	}
	return s
}

// Beside are the log odds that a reed sounds with its neighbours, and the states with it
// and without it. Where nothing was asked both states are 0, which is silence.
type Beside struct {
	Odds          float64
	With, Without int
}

// besideSide is the probability of a span's side of the question; 1 where there is none.
func (r Reader) besideSide(s Span) float64 {
	switch {
	case s.Beside.With == 0:
		return 1
	case s.State == s.Beside.With:
		return logistic.Probability(s.Beside.Odds)
	}
	return logistic.Probability(-s.Beside.Odds)
}
