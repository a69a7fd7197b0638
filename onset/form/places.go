package form

import (
	"math"
	"slices"
)

// Shares of a chord's tones by semitones over its root, of what sounds above and
// of the bass. Blues chords have a flat seventh and often a sixth (common practice,
// no source). stray is the share of tones that are none of them.
var (
	majorTones = [12]float64{0: 0.30, 2: 0.04, 4: 0.19, 7: 0.22, 9: 0.05, 10: 0.10}
	minorTones = [12]float64{0: 0.30, 2: 0.04, 3: 0.19, 5: 0.05, 7: 0.22, 10: 0.10}
	bassTones  = [12]float64{0: 0.50, 3: 0.04, 4: 0.08, 7: 0.16, 9: 0.06, 10: 0.06}
)

const stray = 0.1

// weights of what is heard in a beat, in nats, and how likely the chord changes on the
// first beat, in the middle of a bar and elsewhere.
type weights struct {
	treble, bass float64
	firstBass    float64 // times as much on the first beat
	rareMinor    float64 // against a major chord
	rhythm       float64 // of what drums or grooves say
	long         float64
	first        float64
	middle       float64
	elsewhere    float64
}

// slip is how likely a beat was missed or invented.
const slip = 1e-4

// chords are the twelve major ones by root, then the minor ones.
const chords = 24

// likelihood is the logarithm of how much likelier than by chance each pitch class
// sounds, by semitones over the root.
func likelihood(shares [12]float64) [12]float64 {
	sum := 0.0
	for _, v := range shares {
		sum += v
	}
	for i := range shares {
		shares[i] = math.Log(12*(1-stray)*shares[i]/sum + stray)
	}
	return shares
}

// chordEvidence is, for each chord, what the tones above and the bass say.
func (h heard) chordEvidence(w weights) (treble, bass [chords]float64) {
	above := [2][12]float64{likelihood(majorTones), likelihood(minorTones)}
	below := likelihood(bassTones)
	for c := range chords {
		for k := range 12 {
			over := (k - c%12 + 12) % 12
			treble[c] += w.treble * h.treble[k] * above[c/12][over]
			bass[c] += w.bass * h.bass[k] * below[over]
		}
		if c >= 12 {
			treble[c] -= w.rareMinor
		}
	}
	return treble, bass
}

// accent is what drums, or grooves where they are followed, and the player's long
// notes say for a place in a bar of m beats. Without grooves: bass drum on 1 and 3,
// snare on 2 and 4; in three, bass drum on 1.
func (h heard) accent(place, m int, w weights, band float64) float64 {
	strong := 1.0
	switch {
	case m == 3 && place > 0:
		strong = -0.5
	case place%2 == 1:
		strong = -1
	}
	v := band * w.rhythm * strong * (h.kick - h.snare)
	if h.rhythm != nil {
		v = band * w.rhythm * h.rhythm[place]
	}
	switch {
	case place == 0:
		v += w.long * h.long
	case 2*place == m:
		v += w.long * h.long / 2
	}
	return v
}

// model is the hidden Markov model over place and chord; state place*chords+chord.
type model struct {
	weights
	places int
	prior  [chords]float64 // of the chord that a change leads to
}

// newModel is that of bars of so many beats; key is the pitch class of the song, or
// nil.
func newModel(places int, key *int, w weights) model {
	m := model{weights: w, places: places}
	for c := range m.prior {
		m.prior[c] = 1. / chords
		if key == nil {
			continue
		}
		root, ok := bluesRoots[(c-*key+12)%12]
		if !ok {
			root = otherRoot
		}
		m.prior[c] = root * (1 - minorShare)
		if c >= 12 {
			m.prior[c] = root * minorShare
		}
	}
	return m
}

// How common roots are in the blues, by semitones over the tonic, and minor chords
// (common practice, no source).
var bluesRoots = map[int]float64{0: 0.35, 5: 0.25, 7: 0.15}

const (
	otherRoot  = 0.25 / 9
	minorShare = 0.2
)

func (m model) states() int { return m.places * chords }

// change is how likely the chord changes as a place begins.
func (m model) change(place int) float64 {
	switch {
	case place == 0:
		return m.first
	case 2*place == m.places:
		return m.middle
	}
	return m.elsewhere
}

// emit is the logarithm of how well a beat fits each state. band, 0 to 1, is how
// much of a band there is to hear.
func (m model) emit(h heard, band float64) []float64 {
	treble, bass := h.chordEvidence(m.weights)
	out := make([]float64, m.states())
	for place := range m.places {
		accent, root := h.accent(place, m.places, m.weights, band), 1.0
		if place == 0 {
			root = m.firstBass
		}
		for c := range chords {
			out[place*chords+c] = accent + band*(treble[c]+root*bass[c])
		}
	}
	return out
}

// step carries probabilities over to the next beat, or with back over to the one
// before.
func (m model) step(p []float64, back bool) []float64 {
	out := make([]float64, len(p))
	all := sum(p)
	for place := range m.places {
		from, to := place, (place+1)%m.places
		change := m.change(to)
		if back {
			from, to = to, from
		}
		src, dst := p[from*chords:(from+1)*chords], out[to*chords:(to+1)*chords]
		any := 0.0
		for c, v := range src {
			if back {
				v *= m.prior[c]
			}
			any += v
		}
		for c := range dst {
			changed := change * any
			if !back {
				changed *= m.prior[c]
			}
			dst[c] = (1-slip)*((1-change)*src[c]+changed) + slip*all/float64(len(p))
		}
	}
	return out
}

// stretch is how many beats are kept at once.
const stretch = 256

// decide gives the probabilities of each beat's place in the bar, by the forward and
// backward probabilities, and the logarithm of the evidence. Of a long section only what
// stretches begin with is kept on the way forward.
func (m model) decide(beats []heard, band float64) (places [][]float64, evidence float64) {
	parts := slices.Collect(slices.Chunk(beats, stretch))
	before := make([][]float64, len(parts)+1)
	var fits, states [][]float64
	for i, part := range parts {
		var e float64
		fits, states, e = m.forward(before[i], part, band)
		before[i+1] = states[len(states)-1]
		evidence += e
	}
	places = make([][]float64, len(beats))
	back := slices.Repeat([]float64{1}, m.states())
	for i := len(parts) - 1; i >= 0; i-- {
		if i < len(parts)-1 {
			fits, states, _ = m.forward(before[i], parts[i], band)
		}
		for k := len(states) - 1; k >= 0; k-- {
			times(states[k], back)
			place := make([]float64, m.places)
			for state, v := range states[k] {
				place[state/chords] += v
			}
			normalize(place)
			places[i*stretch+k] = place
			times(back, fits[k])
			back = m.step(back, true)
			normalize(back)
		}
	}
	return places, evidence
}

// forward gives how well each beat fits each state, against the best, the states'
// probabilities after each beat, and the logarithm of the evidence, given those before
// the first, nil at the beginning.
func (m model) forward(
	before []float64, beats []heard, band float64,
) (fits, states [][]float64, evidence float64) {
	for _, h := range beats {
		now := make([]float64, m.states())
		if before == nil {
			for k := range now {
				now[k] = m.prior[k%chords] / float64(m.places)
			}
		} else {
			now = m.step(before, false)
		}
		fit := m.emit(h, band)
		top := slices.Max(fit)
		for k := range fit {
			fit[k] = math.Exp(fit[k] - top)
		}
		times(now, fit)
		evidence += top + math.Log(normalize(now))
		fits, states, before = append(fits, fit), append(states, now), now
	}
	return fits, states, evidence
}

func sum(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v
	}
	return s
}

// times multiplies x by y.
func times(x, y []float64) {
	for i := range x {
		x[i] *= y[i]
	}
}

// normalize makes x sum to 1 and returns its sum.
func normalize(x []float64) float64 {
	s := sum(x)
	for i := range x {
		x[i] /= s
	}
	return s
}
