package tabber

import (
	"math"
	"slices"

	"blowdraw/pitch"
)

// Confidence. What the lattice believes of its own choice is too sure of itself:
// frames beside each other are not independent evidence, and a band misleads the
// ear in the same way for as long as a chord lasts. So a logistic model (Platt
// 1999, "Probabilistic outputs for support vector machines") maps a few things
// that speak for or against an event to how often such events were right. It is
// fitted on clips whose truth is known, and judged on others by the share that
// is right of what it calls sure and by expected calibration error (Guo et al.
// 2017, "On calibration of modern neural networks"): calibrate_test.go.

// feature is one thing that speaks for or against an event. Probabilities count
// as log odds within ±oddsMost. The core is the span without its first and last
// edgeFrames; near the start is within nearFrames of it.
type feature int

const (
	begins    feature = iota // posterior: the state begins within a frame of the begin that the search found
	counted                  // the ear's count of reeds agrees, mean over the core
	attacked                 // least attacked row of the event, at its best near the start
	companion                // surest row, by mean over the core, that would make another playable event of this one
	offPitch                 // semitones between the measured pitch and its row, the worst reed, at most 1
	length                   // log of seconds
	unsure                   // near it: log of how many rows are in doubt at a time
	features                 // how many there are
)

const (
	oddsMost      = 6.0 // 99.75 %
	edgeFrames    = 2
	nearFrames    = 3
	leastDoubtful = 0.01 // rows in doubt at a time
)

// calibration is a logistic model of whether an event is right: constant plus
// the sum of weight times feature are the log odds.
type calibration struct {
	constant float64
	weight   [features]float64
}

func (c *calibration) probability(x [features]float64) float64 {
	z := c.constant
	for i, v := range x {
		z += c.weight[i] * v
	}
	return 1 / (1 + math.Exp(-z))
}

// confidences of the events of one window: probabilities. The classical ear,
// which does not tell the number of reeds, has the posterior alone; so
// has a sound that the harp cannot play.
func (t *Transcriber) confidences(f pitch.Frames, p posterior, spans []span, n nearby) []float64 {
	out := make([]float64, len(spans))
	for i, s := range spans {
		out[i] = p.begins(t.sameSound(s.state), s.found, onsetFrames)
	}
	if f.Count == nil {
		return out
	}
	for i, x := range t.features(f, p, spans, n) {
		if len(t.states[spans[i].state].actions) > 0 {
			out[i] = min(learnedCalibration.probability(x), t.octaveSide(spans[i]))
		}
	}
	return out
}

// features of the events of one window, one vector for each span.
func (t *Transcriber) features(f pitch.Frames, p posterior, spans []span, n nearby) [][features]float64 {
	out := make([][features]float64, len(spans))
	for i, s := range spans {
		out[i] = t.featuresOf(f, p, s)
		out[i][unsure] = n.unsure(doubtOf(f, s))
	}
	return out
}

// featuresOf one span: those that other spans have no part in.
func (t *Transcriber) featuresOf(f pitch.Frames, p posterior, s span) [features]float64 {
	var x [features]float64
	st := t.states[s.state]
	x[begins] = odds(p.begins(t.sameSound(s.state), s.found, 1))
	var sounding [pitch.Rows]float64 // mean over the core
	lo, hi := core(s)
	n := float64(hi - lo)
	for k := lo; k < hi; k++ {
		for r := range sounding {
			sounding[r] += float64(f.Sounding[k*pitch.Rows+r]) / n
		}
		x[counted] += odds(float64(f.Count[k][min(len(st.rows), 3)])) / n
	}
	beside := 0.0
	for r, v := range sounding {
		if v > beside && t.goesWith(st, r) {
			beside = v
		}
	}
	x[companion] = odds(beside)
	x[attacked] = oddsMost
	for _, r := range st.rows {
		x[attacked] = min(x[attacked], odds(attack(f, r, s.from)))
		off := measured(f, r, s) - float64(f.Axis.Base+r-pitch.RowBelow) - f.Axis.Cents/100
		x[offPitch] = max(x[offPitch], min(math.Abs(off), 1))
	}
	x[length] = math.Log(float64(s.to-s.from) * pitch.HopSeconds)
	return x
}

// attack is the greatest probability that a row is attacked near a frame.
func attack(f pitch.Frames, r, at int) float64 {
	top := float32(0)
	for k := max(0, at-nearFrames); k <= min(f.N-1, at+nearFrames); k++ {
		top = max(top, f.Attack[k*pitch.Rows+r])
	}
	return float64(top)
}

// goesWith reports whether some state of several reeds has row r besides all
// rows of st.
func (t *Transcriber) goesWith(st state, r int) bool {
	if slices.Contains(st.rows, r) {
		return false
	}
	for _, other := range t.states {
		if len(other.rows) > len(st.rows) && slices.Contains(other.rows, r) && subset(st.rows, other.rows) {
			return true
		}
	}
	return false
}

// subset reports whether b has all of a.
func subset(a, b []int) bool {
	for _, r := range a {
		if !slices.Contains(b, r) {
			return false
		}
	}
	return true
}

// core is the span without its edges, where it is long enough.
func core(s span) (lo, hi int) {
	if s.to-s.from > 2*edgeFrames {
		return s.from + edgeFrames, s.to - edgeFrames
	}
	return s.from, s.to
}

// odds is the log odds of a probability, within ±oddsMost.
func odds(p float64) float64 {
	return min(max(math.Log(p/(1-p)), -oddsMost), oddsMost)
}

// learnedCalibration goes with learnedMethod and the ear's weights: fit it again
// when either changes.
var learnedCalibration = calibration{
	constant: -1.621,
	weight: [features]float64{
		begins:    0.358,
		counted:   0.370,
		attacked:  0.151,
		companion: -0.235,
		offPitch:  -2.150,
		length:    -0.330,
		unsure:    -0.244,
	},
}
