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
	heardUnder = 10.0 // dB under its level, which
	heardLevel = 0.85 // of its frames stay under: what fades in is soft for half of its length and more
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
	least := f.LoudIn(rows, from, to, heardLevel) - heardUnder
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

// lateReed is how many frames after the others a reed must be heard to begin, or before them
// to end, for a listener to hear two events (81 ms); players mean it as one move.
const lateReed = 7

// Parted are the parts of each span in which some reeds are heard to enter late, or to leave
// early, where what sounds without them can be played; and the others as they are.
func (r Reader) Parted(f pitch.Frames, spans []Span) []Span {
	var out []Span
	for _, s := range spans {
		out = append(out, r.parts(f, s)...)
	}
	return out
}

// parts of a span: what sounds before the last reed has entered, all, and what is left.
func (r Reader) parts(f pitch.Frames, s Span) []Span {
	heard := r.heardSpans(f, s.Span)
	if len(heard) < 2 {
		return []Span{s}
	}
	all := r.States[s.State].Actions
	early, enter := entering(heard, all, s.From)
	stay, leave := leaving(heard, all, s.To)
	if leave-enter < lateReed { // never all together for long
		return []Span{s}
	}
	before, after := r.States.Playing(early), r.States.Playing(stay)
	if before < 0 || enter-s.From < lattice.MinFrames {
		enter = s.From
	}
	if after < 0 || s.To-leave < lateReed {
		leave = s.To
	}
	if enter == s.From && leave == s.To {
		return []Span{s}
	}
	var out []Span
	if enter > s.From {
		out = append(out, s.part(before, s.From, enter))
	}
	out = append(out, s.part(s.State, enter, leave))
	if leave < s.To {
		out = append(out, s.part(after, leave, s.To))
	}
	return out
}

// entering are the reeds that are heard from the first on or soon after, and the frame from
// which the others are heard, too; from if all are.
func entering(heard []stretch, all []harp.Action, from int) (early []harp.Action, at int) {
	first := heard[0].from
	for _, h := range heard {
		first = min(first, h.from)
	}
	at = from
	for i, h := range heard {
		if h.from-first < lateReed {
			early = append(early, all[i])
		} else {
			at = max(at, h.from)
		}
	}
	return early, at
}

// leaving are the reeds that are heard to the last or nearly, and the frame at which the first
// of the others is gone; to if none is.
func leaving(heard []stretch, all []harp.Action, to int) (stay []harp.Action, at int) {
	last := heard[0].to
	for _, h := range heard {
		last = max(last, h.to)
	}
	at = to
	for i, h := range heard {
		if last-h.to < lateReed {
			stay = append(stay, all[i])
		} else {
			at = min(at, h.to)
		}
	}
	return stay, at
}

// part is a part of a span, in a state over frames [from, to).
func (s Span) part(state, from, to int) Span {
	p := s
	p.State, p.From, p.To, p.Parted, p.Whole = state, from, to, true, s.State
	if state != s.State {
		p.Octave = 0
	}
	return p
}

// stretch is frames [from, to).
type stretch struct{ from, to int }

// heardSpans are the frames of a span in which each of its reeds is heard with the others: from
// where it is near its own usual level and not far under theirs, until it falls far under theirs.
func (r Reader) heardSpans(f pitch.Frames, s lattice.Span) []stretch {
	rows := r.States[s.State].Rows
	if f.Loud == nil || s.From < 0 || s.To > f.N || s.From >= s.To {
		return nil
	}
	out := make([]stretch, len(rows))
	for i, row := range rows {
		h := stretch{heardFrom(f, []int{row}, 1, s.From, s.To), s.To}
		others := slices.Delete(slices.Clone(rows), i, i+1)
		under := func(t int) bool {
			for _, o := range others {
				if float64(f.Loud[t*pitch.Rows+o]-f.Loud[t*pitch.Rows+row]) >= r.Ends.Apart {
					return true
				}
			}
			return false
		}
		for h.from < s.To-lattice.MinFrames && under(h.from) {
			h.from++
		}
		for h.to > h.from+lattice.MinFrames && under(h.to-1) {
			h.to--
		}
		out[i] = h
	}
	return out
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
