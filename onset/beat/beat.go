// Package beat finds the tempo, the beats and the feel of a recording from when
// its sounds begin.
//
// What goes in is the onset strength of the recording, whoever plays, and the
// starts of the notes that were transcribed. What comes out is a [Result].
//
// # Method
//
// Time is cut into overlapping windows. In each, every tempo from [Slowest] to
// [Fastest] is tried in two ways.
//
// A tempo has a pulse if the strength resembles itself after one, two, three and
// four beats (its autocorrelation, read with a comb). This hears the band.
//
// And it has a grid: plain beats, straight (halves, a few quarters), swung (an
// eighth after the middle) or triplets. The begins of notes, and less so the peaks of the
// strength, are folded onto one beat, and the grid is laid over them at the
// place where it explains them best: each begin lies near a grid position, more
// often on the beat than off it, or it is a stray. A finer grid explains more
// but expects less at each position, so that it wins only where it is needed.
// This hears a player alone.
//
// The likeliest sequence of tempo and grid over the windows (Viterbi) gives the
// tempo curve. The prior over tempi is log-normal, as in Ellis (2007); the prior
// over grids favours triplets, in which blues is phrased (common practice, no
// source).
//
// Where in each window the beat lies is then decided over all windows together, as
// it goes on from one to the next (Viterbi again). The beats are placed by dynamic
// programming: each close to a period after the last, and on begins where there
// are some (Ellis 2007, "Beat tracking by dynamic programming", Journal of New
// Music Research 36(1)). The two main weights were chosen on the bench.
package beat

import (
	"math"
	"slices"
)

// Tempi that are tried, in beats a minute.
const (
	Slowest = 50.0
	Fastest = 200.0
)

// Strength is how much begins at each moment, as onset.Strength measures it: one
// value every Hop seconds, the first at Start seconds.
type Strength struct {
	Start, Hop float64
	Values     []float32
}

// Words for how beats are divided.
const (
	Straight = "straight" // into halves
	Swing    = "swing"    // into a long and a short note
	Triplet  = "triplet"  // into thirds, all of them in use
)

// Result is the tempo of a section.
type Result struct {
	BPM float64 // beats a minute, the median over the section; 0 if too little begins there
	// Alternative is the likelier of half and double the tempo, 0 if neither can
	// be or BPM was given.
	Alternative float64
	Beats       []float64 // seconds, ascending
	Feel        string    // Straight, Swing or Triplet; empty if nothing divides the beats
	// SwingRatio is how long the first of two swung eighths is, divided by the
	// second: 2 for triplet swing, 1 for none; 0 where too few off-beats were heard.
	SwingRatio float64
}

// leastBegins is the number of begins, notes or what may be some, that a tempo
// can be told from.
const leastBegins = 6

// Find measures the tempo between from and to seconds, from the strength and the
// begins of notes in seconds, ascending. If bpm is above 0 it is taken as the
// tempo (to within 1.5 %, as no player is a clock), and only beats and feel are
// found.
func Find(s Strength, notes []float64, from, to, bpm float64) Result {
	begins, n := s.begins(notes, from, to)
	if n < leastBegins {
		return Result{BPM: bpm}
	}
	curve, alternative := tempoCurve(s, begins, from, to, bpm)
	curve.place(begins)
	r := Result{BPM: curve.bpm(), Alternative: alternative}
	r.Beats = track(begins, curve, from, to)
	if bpm > 0 {
		r.BPM = bpm
	} else if refined := steady(r.Beats); refined > 0 && math.Abs(refined/r.BPM-1) < 0.02 {
		r.Alternative *= refined / r.BPM
		r.BPM = refined
	}
	r.Feel, r.SwingRatio = feel(begins, r.Beats)
	return r
}

// Tapped is the tempo of beats that somebody has tapped, in seconds, ascending.
func Tapped(beats []float64, s Strength, notes []float64) Result {
	return Result{BPM: steady(beats)}.At(beats, s, notes)
}

// At is a result with other beats, and their feel.
func (r Result) At(beats []float64, s Strength, notes []float64) Result {
	r.Beats = beats
	if len(beats) > 1 {
		begins, _ := s.begins(notes, beats[0], beats[len(beats)-1])
		r.Feel, r.SwingRatio = feel(begins, beats)
	}
	return r
}

// Moved is a result at the tempo of other beats. If that is half or double the tempo
// before, the alternative is the tempo before.
func (r Result) Moved(beats []float64) Result {
	bpm := steady(beats)
	if bpm == 0 || r.BPM == 0 {
		return r
	}
	change := bpm / r.BPM
	switch {
	case r.Alternative == 0:
	case math.Abs(change-2) < 0.1 || math.Abs(change-0.5) < 0.025:
		r.Alternative = r.BPM
	default:
		r.Alternative *= change
	}
	if r.Alternative < Slowest || r.Alternative > Fastest {
		r.Alternative = 0
	}
	r.BPM = bpm
	return r
}

// steady is the tempo of beats by the median of their distances eight apart, 0
// for too few.
func steady(beats []float64) float64 {
	span := min(8, len(beats)/2)
	if span == 0 {
		return 0
	}
	var gaps []float64
	for i := span; i < len(beats); i++ {
		gaps = append(gaps, (beats[i]-beats[i-span])/float64(span))
	}
	return 60 / median(gaps)
}

func median(x []float64) float64 {
	x = slices.Clone(x)
	slices.Sort(x)
	n := len(x)
	return (x[(n-1)/2] + x[n/2]) / 2
}
