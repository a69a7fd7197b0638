// Package hearing is how a recording is heard for a harp: its sound comes window by
// window, an ear makes frames of it on rows that lie where the harp's notes are, and
// from these the tuning is measured.
//
// Two ears are there. The learned one (package pitch/ear) hears several reeds at a time.
// The classical one puts together probabilistic YIN (Mauch & Dixon 2014, "pYIN: a
// fundamental frequency estimator using probabilistic threshold distributions", ICASSP),
// spectral flux (Böck & Widmer 2013, "Maximum filter vibrato suppression for onset
// detection", DAFx) and dips in level; it hears single notes only and stays as a
// yardstick and for machines on which the network is slow.
package hearing

import (
	"blowdraw/decode"
	"blowdraw/onset"
	"blowdraw/pitch"
	"blowdraw/pitch/ear"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/lattice"
)

// Ear turns sound into frames.
type Ear struct{ learned *ear.Ear } // nil: the classical one

// Learned loads the learned ear.
func Learned() (Ear, error) {
	e, err := ear.New()
	return Ear{e}, err
}

// Classical is the classical ear.
func Classical() Ear { return Ear{} }

// Several reports whether the ear hears several reeds at a time.
func (e Ear) Several() bool { return e.learned != nil }

// reach is how many frames after a frame the ear's answer depends on.
func (e Ear) reach() int {
	if e.learned == nil {
		return 0
	}
	return e.learned.Reach()
}

// Axis of the ears for a harp at a tuning offset in cents.
func Axis(h harp.Harp, cents float64) pitch.Axis {
	a := pitch.Axis{Base: h.Base, Cents: cents}
	for _, act := range h.Actions(true) {
		if r := lattice.Row(h, act); r >= 0 && r < pitch.Rows {
			a.Layout[featureOf(act)][r] = 1
		}
	}
	return a
}

// featureOf an action in the axis's layout.
func featureOf(a harp.Action) int {
	switch {
	case a.Bend < 0:
		return pitch.Overbend
	case a.Bend > 0 && a.Breath == harp.Draw:
		return pitch.DrawBend
	case a.Bend > 0:
		return pitch.BlowBend
	case a.Breath == harp.Draw:
		return pitch.DrawNote
	}
	return pitch.BlowNote
}

// Listener hears a clip, mono at pitch.Rate, for a harp at any offset in cents.
func (e Ear) Listener(h harp.Harp, c decode.Clip) func(cents float64) pitch.Frames {
	if e.learned == nil {
		return classical(h, c)
	}
	return func(cents float64) pitch.Frames { return e.learned.Hear(c.Samples, c.Start, Axis(h, cents)) }
}

const (
	riseFrames = 4   // in which a row must have begun to sound for the flux to count as its attack,
	riseBy     = 0.3 // by so much
)

// classical takes pitch from probabilistic YIN, begins of notes from spectral flux where
// a row starts to sound and from dips in level.
func classical(h harp.Harp, c decode.Clip) func(cents float64) pitch.Frames {
	track := pitch.NewTrack(c.Samples, c.Start, Axis(h, 0))
	flux := onset.Probability(onset.Strength(c.Samples, pitch.Rate, pitch.Hop))
	tongued := onset.Tongued(onset.Dips(c.Samples, pitch.Rate, pitch.Hop))
	return func(cents float64) pitch.Frames {
		f := track.Frames(Axis(h, cents))
		for i := range f.N {
			before, after := max(0, i-riseFrames), min(f.N-1, i+riseFrames)
			for r := range pitch.Rows {
				f.Attack[i*pitch.Rows+r] = tongued[i]
				if f.Sounding[after*pitch.Rows+r] > f.Sounding[before*pitch.Rows+r]+riseBy {
					f.Attack[i*pitch.Rows+r] = max(tongued[i], flux[i])
				}
			}
		}
		return f
	}
}
