// Package lattice finds what a player most likely did, state by state, given what an ear
// heard.
//
// A state is silence or something that a player can do with one breath. The likeliest
// sequence of states over the frames (Viterbi 1967, "Error bounds for convolutional
// codes and an asymptotically optimum decoding algorithm", IEEE Trans. Information
// Theory 13) becomes spans; the forward and backward probabilities over the same lattice
// (Rabiner 1989, "A tutorial on hidden Markov models", Proc. IEEE 77) say how sure that
// is and what else it may have been. Nothing here knows of sound: frames go in, spans
// and probabilities come out.
package lattice

import (
	"math"

	"blowdraw/pitch"

	"gonum.org/v1/gonum/floats"
)

// MinFrames is the least length of a span in frames (35 ms).
const MinFrames = 3

// Lattice is the search space over one window: states that last at least
// MinFrames (silence excepted), entered at a cost that attacks lower.
type Lattice struct {
	states States
	frames pitch.Frames
	w      Weights
	cost   [][]float64 // [to][from] log weights
	emit   []float64   // of the frame at hand, one per state
	onset  []float64
	bounds []Bound // what each frame is bound to; nil if none is

	faint, silent float64 // what soundingOdds says of the least probability
	never         float64 // odds of an attack at its floor
}

// Bound ties a frame to a state, Free to none. With Begin the state must begin
// there, without it nothing may.
type Bound struct {
	State int
	Begin bool
}

// Free is the state of a bound that ties to none.
const Free = -1

// New is the lattice of states over frames. Bounds has one for each frame, or is nil.
func New(s States, f pitch.Frames, w Weights, bounds []Bound) *Lattice {
	l := &Lattice{
		states: s, frames: f, w: w, bounds: bounds,
		emit: make([]float64, len(s)), onset: make([]float64, len(s)), never: math.Exp(w.AttackFloor),
	}
	l.faint, l.silent = l.soundingOdds(least)
	l.cost = make([][]float64, len(s))
	for to := range s {
		l.cost[to] = make([]float64, len(s))
		for from := range s {
			l.cost[to][from] = w.Moves.cost(&s[from], &s[to])
		}
	}
	return l
}

// Another is the same lattice with scores of its own, so that both can be gone through
// at once.
func (l *Lattice) Another() *Lattice {
	other := *l
	other.emit, other.onset = make([]float64, len(l.states)), make([]float64, len(l.states))
	return &other
}

// bind rules out, in the scores of frame t, what its bound does not allow.
func (l *Lattice) bind(t int) {
	if l.bounds == nil || l.bounds[t].State == Free {
		return
	}
	b := l.bounds[t]
	for i := range l.emit {
		if i != b.State {
			l.emit[i] = math.Inf(-1)
		}
	}
	if !b.Begin {
		l.onset[b.State] = math.Inf(-1)
	}
}

// lasts reports whether notes may go on from the frame before into frame t.
func (l *Lattice) lasts(t int) bool { return l.bounds == nil || !l.bounds[t].Begin }

// score fills emit and onset with the log weights of frame t.
func (l *Lattice) score(t int) {
	f, w := &l.frames, &l.w
	var odds, attack [pitch.Rows]float64
	quiet, loudest := 0.0, l.loudest(t)
	for r := range pitch.Rows {
		x, silent := l.faint, l.silent
		if p := float64(f.Sounding[t*pitch.Rows+r]); p > least {
			x, silent = l.soundingOdds(p)
		}
		odds[r] = w.Sounding * (x - l.masked(t, r, loudest))
		quiet += w.Sounding * silent
		attack[r] = l.attackOdds(f.Attack[t*pitch.Rows+r])
	}
	var breath [pitch.Drawing + 1]float64
	var count [pitch.MostCounted + 1]float64
	if f.Breath != nil {
		for i, p := range f.Breath[t] {
			breath[i] = w.Breath * math.Log(Clip(float64(p)))
		}
		for i, p := range f.Count[t] {
			count[i] = w.Count * math.Log(Clip(float64(p)))
		}
	}
	event := l.attackOdds(f.Event[t])
	for i := range l.states {
		s := &l.states[i]
		e, a := quiet+breath[s.Breath]+count[min(len(s.Rows), pitch.MostCounted)], 0.0
		if s.Either || s.Breath == pitch.NoBreath && len(s.Rows) > 0 {
			e = quiet + max(breath[pitch.Blowing], breath[pitch.Drawing]) + count[min(len(s.Rows), pitch.MostCounted)]
		}
		for _, r := range s.Rows {
			e += odds[r]
			a += attack[r]
		}
		l.emit[i], l.onset[i] = e, 0
		if len(s.Rows) > 0 {
			l.onset[i] = w.Attack*a/float64(len(s.Rows)) + w.Event*event
		}
	}
	l.bind(t)
}

// loudest is the level of the loudest row that rather sounds than not in frame t, in dB;
// -Inf if none does or levels were not measured.
func (l *Lattice) loudest(t int) float64 {
	f, loudest := &l.frames, math.Inf(-1)
	if f.Loud == nil {
		return loudest
	}
	for r := t * pitch.Rows; r < (t+1)*pitch.Rows; r++ {
		if f.Sounding[r] > 0.5 {
			loudest = max(loudest, float64(f.Loud[r]))
		}
	}
	return loudest
}

// masked are the log odds that a row of frame t has less since a far louder one sounds: what
// bleeds in beside a reed, or rings with it, is not heard as another note.
func (l *Lattice) masked(t, row int, loudest float64) float64 {
	if math.IsInf(loudest, -1) {
		return 0
	}
	return l.w.Masked * max(0, loudest-float64(l.frames.Loud[t*pitch.Rows+row])-l.w.Mask)
}

// Evidence sums over frames the log weight of the state that explains each best
// by itself.
func (l *Lattice) Evidence() float64 {
	sum := 0.0
	for i := range l.frames.N {
		l.score(i)
		sum += floats.Max(l.emit)
	}
	return sum
}

// least and 1-least are the limits between which probabilities are taken.
const least = 0.002

// Clip keeps a probability away from 0 and 1, so that its logarithm says no more than
// one frame can.
func Clip(p float64) float64 { return min(max(p, least), 1-least) }

// soundingOdds are the log odds that a row sounds, less what the ear overstates,
// and the log probability that it does not.
func (l *Lattice) soundingOdds(p float64) (odds, silent float64) {
	p = Clip(p)
	odds = math.Log(p/(1-p)) - l.w.Lean
	return odds, -math.Log1p(math.Exp(odds))
}

func (l *Lattice) attackOdds(p float32) float64 {
	q := Clip(float64(p))
	if q < l.never*(1-q) {
		return l.w.AttackFloor
	}
	return min(max(math.Log(q/(1-q)), l.w.AttackFloor), l.w.AttackCeil)
}
