package reading

import (
	"blowdraw/pitch"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/tab"
)

// A start is where it is heard. A reed's first trace in the spectrum comes before a listener
// hears a note begin, by hundreds of milliseconds where it fades in; a listener places the
// start where the note has risen to about 10 dB under its level (perceptual attack time: Vos &
// Rasch 1981, "The perceptual onset of musical tones", Perception & Psychophysics 29; Gordon
// 1987, "The perceptual attack time of musical tones", JASA 82; both from memory). So do
// people who annotate recordings. What measures a note from its first trace on - octaves,
// confidence, marks, who plays - works with spans and events as they were found; the start is
// moved when all that is done.
const (
	heardUnder = 10.0 // dB under its level
	mostLate   = 52   // frames after its first trace in which a start is looked for (0.6 s)
)

// heardFrom is the frame from which rows that sound over frames [from, to) are heard; from
// itself if their levels were not measured.
func heardFrom(f pitch.Frames, rows []int, from, to int) int {
	if f.Loud == nil || len(rows) == 0 || from < 0 || to > f.N || from >= to {
		return from
	}
	least := f.UsualLoud(rows, from, to) - heardUnder
	at := from
	for at < min(from+mostLate, to-lattice.MinFrames) && f.LoudOf(rows, at) < least {
		at++
	}
	return at
}

// HeardStart is when an event of the reader's harp is heard to start, in seconds; its own
// start if that can't be told.
func (r Reader) HeardStart(f pitch.Frames, e tab.Event) float64 {
	var rows []int
	for _, a := range e.Actions {
		rows = append(rows, lattice.Row(r.Harp, a))
	}
	from := f.At(e.Start)
	at := heardFrom(f, rows, from, min(f.At(e.End), f.N))
	if at == from {
		return e.Start
	}
	return f.Time(at)
}

// Heard is an event that starts where it is heard to.
func (r Reader) Heard(f pitch.Frames, e tab.Event) tab.Event {
	e.Start = r.HeardStart(f, e)
	return e
}
