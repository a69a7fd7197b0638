package review

import (
	"math"

	"blowdraw/pitch"
	"blowdraw/tabber/tab"
)

// Belonging is how well a tab goes with a recording: by how much oftener what it says
// sounds when it says so than at other times, against how much oftener that would be
// were it all there. It is about 1 for the recording that the tab is of, and about 0 for
// another, whatever the band. Known is false if too little is written, or it is too much
// the same all along, to tell.
type Belonging struct {
	Share float64
	Known bool
}

// Figures of [Belongs]. On 24 made clips, with and without bands, the tabs that are heard
// in them have a share of 0.93 to 1.00 with their own clip and -0.05 to 0.12 with two
// others each; of six recordings that people annotated each is told from two others.
// leastBelonging lies nearer to the others, since a tab that somebody has written
// goes less well with what is heard than one that was heard.
const (
	leastBelonging = 0.25
	leastWritten   = 3.0  // s of notes that a tab must have
	nearLag        = 1.0  // s; a tab so much too late still goes with its recording
	lagStep        = 0.25 // s
	leastContrast  = 0.15 // of a tab with itself
)

// Belongs reports whether the tab may be that of the recording.
func (b Belonging) Belongs() bool { return !b.Known || b.Share >= leastBelonging }

// Belongs compares a tab with the pitches heard in a recording every pitch.HopSeconds
// from a time in seconds on, as MIDI numbers as they sound: at their time, and moved by
// whole fractions of the section, round its end.
func Belongs(d tab.Document, from float64, heard [][]float64) Belonging {
	n := len(heard)
	written := make([]uint64, n) // notes by frame, as bits
	sounding := make([]uint64, n)
	for i, pitches := range heard {
		for _, p := range pitches {
			sounding[i] |= bit(int(math.Round(p - d.TuningCents/100)))
		}
	}
	frames := 0
	for _, e := range d.Events {
		a := max(0, int(math.Round((e.Start-from)/pitch.HopSeconds)))
		b := min(n, int(math.Round((e.End-from)/pitch.HopSeconds)))
		for i := a; i < b; i++ {
			for _, m := range d.Sounding(e) {
				written[i] |= bit(m)
			}
		}
		frames += max(0, b-a)
	}
	step, near := int(math.Round(lagStep/pitch.HopSeconds)), int(math.Round(nearLag/pitch.HopSeconds))
	if float64(frames)*pitch.HopSeconds < leastWritten || n < 4*near {
		return Belonging{}
	}
	now, later, self, count := agreement(written, sounding, 0), 0.0, 0.0, 0.0
	for lag := near; lag <= n-near; lag += step {
		later += agreement(written, sounding, lag)
		self += agreement(written, written, lag)
		count++
	}
	contrast := 1 - self/count
	return Belonging{Share: (now - later/count) / max(contrast, 1e-9), Known: contrast >= leastContrast}
}

// bit of a MIDI note; a harp's lie between 30 and 93.
func bit(midi int) uint64 {
	if midi < 30 || midi > 93 {
		return 0
	}
	return 1 << (midi - 30)
}

// agreement is the share of written frames of which a note sounds lag frames later.
func agreement(written, sounding []uint64, lag int) float64 {
	n := len(written)
	all, right := 0, 0
	for i, w := range written {
		if w != 0 {
			all++
			if w&sounding[(i+lag)%n] != 0 {
				right++
			}
		}
	}
	return float64(right) / float64(max(all, 1))
}
