package reading

import (
	"slices"

	"blowdraw/pitch"
	"blowdraw/tabber/harp"
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
	slideRows  = 2    // below its own, on which a note that slides up into its pitch sounds first
	mostLate   = 52   // frames after its first trace in which a start is looked for (0.6 s)
)

// heardFrom is the frame from which rows that sound over frames [from, to) are heard; from
// itself if their levels were not measured. What sounds on so many rows below each counts
// with it, since notes slide up into their pitch.
func heardFrom(f pitch.Frames, rows []int, below, from, to int) int {
	if f.Loud == nil || len(rows) == 0 || from < 0 || to > f.N || from >= to {
		return from
	}
	least := f.UsualLoud(rows, from, to) - heardUnder
	slid := slices.Clone(rows)
	for _, row := range rows {
		for r := max(0, row-below); r < row; r++ {
			if !slices.Contains(slid, r) {
				slid = append(slid, r)
			}
		}
	}
	at := from
	for at < min(from+mostLate, to-lattice.MinFrames) && f.LoudOf(slid, at) < least {
		at++
	}
	return at
}

// lateReed is how many frames after the others a reed must be heard to begin an event of its
// own (81 ms): players mean it as one move, but a listener hears two.
const lateReed = 7

// Parted are two spans of each one in which some reeds are heard to enter late - of the
// reeds before, if they can be played, and of all - and the others as they are.
func (r Reader) Parted(f pitch.Frames, spans []Span) []Span {
	var out []Span
	for _, s := range spans {
		before, at := r.before(f, s.Span)
		if before < 0 || at-s.From < lattice.MinFrames || s.To-at < lateReed {
			out = append(out, s)
			continue
		}
		s.Parted, s.Whole = true, s.State
		first, all := s, s
		first.State, first.To, first.Octave = before, at, 0
		all.From = at // which the search found where the others begin
		out = append(out, first, all)
	}
	return out
}

// before is the state of those reeds of a span that are heard before others enter late, and
// the frame from which the others are heard; -1 if all are heard together.
func (r Reader) before(f pitch.Frames, s lattice.Span) (state, at int) {
	st := r.States[s.State]
	begins := make([]int, len(st.Rows))
	for i, row := range st.Rows {
		begins[i] = heardFrom(f, []int{row}, 1, s.From, s.To)
	}
	if len(begins) < 2 {
		return -1, 0
	}
	first := slices.Min(begins)
	var early []harp.Action
	at = s.To
	for i, b := range begins {
		if b-first < lateReed {
			early = append(early, st.Actions[i])
		} else {
			at = min(at, b)
		}
	}
	if len(early) == len(begins) {
		return -1, 0
	}
	return r.States.Playing(early), at
}

// HeardStart is when an event of the reader's harp is heard to start, in seconds; its own
// start if that can't be told.
func (r Reader) HeardStart(f pitch.Frames, e tab.Event) float64 {
	var rows []int
	for _, a := range e.Actions {
		rows = append(rows, lattice.Row(r.Harp, a))
	}
	from := f.At(e.Start)
	at := heardFrom(f, rows, slideRows, from, min(f.At(e.End), f.N))
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

// Loudness of an event: the usual level in dB of its own partials; false if it can't be
// measured.
func (r Reader) Loudness(f pitch.Frames, e tab.Event) (float64, bool) {
	var rows []int
	for _, a := range e.Actions {
		rows = append(rows, lattice.Row(r.Harp, a))
	}
	from, to := f.At(e.Start), min(f.At(e.End), f.N)
	if f.Loud == nil || len(rows) == 0 || from >= to {
		return 0, false
	}
	return f.UsualLoud(rows, from, to), true
}
