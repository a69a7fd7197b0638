// Package form finds where in the music a recording is: the first beats of its
// bars, the chords of its band, and the blues form that they make.
//
// [Sound] gathers what the band plays. [FindBars] takes it beat by beat: the beat
// is moved by a third, a half or two thirds if the drums and chords say so, and
// each beat's place in the bar is decided by a hidden Markov model over place and
// chord (forward and backward probabilities: Rabiner 1989). Chords change on first
// beats, now and then in the middle of a bar; the bass plays roots, on the first
// beat most of all; bass drum and snare take turns (common practice, no source).
// Joint models of chords and downbeats are due to Papadopoulos & Peeters (2011),
// "Joint estimation of chords and downbeats from an audio signal".
//
// The weights were chosen on bands made of sampled instruments, not on recordings,
// and the probabilities that come out are rather too high.
package form

import (
	"math"
)

// Note is a note of the player, which is not the band's: start and end in seconds,
// pitch as a MIDI number.
type Note struct{ Start, End, Pitch float64 }

// Options of [FindBars].
type Options struct {
	Meter int      // beats in a bar; 0: 4
	At    *float64 // when some bar begins, in seconds; nil: find out
	Fixed bool     // the beats are sure, and not to be moved
	Key   *int     // pitch class of the song; nil if unknown
}

// SureFrom is the probability from which bars are worth writing.
const SureFrom = 0.5

// Bars are the bars of a recording.
type Bars struct {
	Beats  []float64 // s, moved where the band says so
	Firsts []int     // indices of the beats that begin a bar
	Sure   float64   // probability that they do
	One    int       // index in Firsts of the bar at Options.At; -1 if that was not given
}

// shifts are the parts of a beat by which a player's phrasing may hide the beat.
var shifts = []float64{0, 1. / 3, 1. / 2, 2. / 3}

// What speaks for a shift: the model's evidence, the shares of bass drum and
// snare that strike there, and that it is none. Fitted as a conditional logit
// (McFadden 1974).
const (
	shiftEvidence = 0.03
	shiftKick     = 1.6
	shiftSnare    = 4.7
	unshifted     = 1.4
)

// A bass's share of what sounds, player left out: without a band, and with one. On
// the player alone it is reverberation and noise.
const (
	noBass   = 0.08
	someBass = 0.10
)

// FindBars finds the bars of a section, given its beats in seconds and the notes
// of the player by start.
func FindBars(s Sound, beats []float64, notes []Note, opt Options) Bars {
	m := opt.Meter
	if m == 0 {
		m = 4
	}
	if len(beats) < 2 {
		return Bars{Beats: beats, One: -1}
	}
	if opt.At != nil {
		return barsAt(beats, m, *opt.At, opt.Fixed)
	}
	frames, bass := s.band(notes)
	band := max(0, min((bass-noBass)/(someBass-noBass), 1))
	tried := shifts
	if band == 0 || opt.Fixed {
		tried = shifts[:1]
	}
	model := newModel(m, opt.Key)
	var found []Bars
	var scores, kick, snare []float64
	for _, part := range tried {
		moved := shifted(beats, part)
		places, evidence := model.decide(s.hear(frames, moved, notes), band)
		found = append(found, firsts(moved, places))
		scores = append(scores, shiftEvidence*evidence)
		kick, snare = append(kick, s.strikes(s.Kick, moved)), append(snare, s.strikes(s.Snare, moved))
	}
	normalize(kick)
	normalize(snare)
	for i := range tried {
		scores[i] += shiftKick*kick[i] + shiftSnare*snare[i]
	}
	scores[0] += unshifted
	best, share := softmax(scores)
	found[best].Sure *= share * band
	return found[best]
}

// softmax is the place of the largest score and its share of the exponentials.
func softmax(scores []float64) (best int, share float64) {
	for i, v := range scores {
		if v > scores[best] {
			best = i
		}
	}
	sum := 0.0
	for _, v := range scores {
		sum += math.Exp(v - scores[best])
	}
	return best, 1 / sum
}

// shifted moves every beat on by a part of the way to the next.
func shifted(beats []float64, part float64) []float64 {
	out := make([]float64, len(beats))
	for i := range beats {
		j := min(i, len(beats)-2)
		out[i] = beats[i] + part*(beats[j+1]-beats[j])
	}
	return out
}

// barsAt counts bars of m beats from a time on, both ways; unless the beats are
// fixed they are moved so that one is then.
func barsAt(beats []float64, m int, at float64, fixed bool) Bars {
	near := 0
	for i, b := range beats {
		if math.Abs(b-at) < math.Abs(beats[near]-at) {
			near = i
		}
	}
	out := Bars{Sure: 1}
	for _, b := range beats {
		if !fixed {
			b += at - beats[near]
		}
		out.Beats = append(out.Beats, b)
	}
	for i := near % m; i < len(beats); i += m {
		out.Firsts = append(out.Firsts, i)
	}
	out.One = near / m
	return out
}

// firsts are the beats whose likeliest place is the first of a bar.
func firsts(beats []float64, places [][]float64) Bars {
	out := Bars{Beats: beats, One: -1}
	for i, p := range places {
		best := 0
		for k := range p {
			if p[k] > p[best] {
				best = k
			}
		}
		if best == 0 {
			out.Firsts = append(out.Firsts, i)
		}
		out.Sure += p[best] / float64(len(places))
	}
	return out
}
