// Package fit lays notes that were written down without times onto a recording, in order.
//
// It is a monotonic alignment by dynamic programming (Bellman 1957; of sounds: Sakoe & Chiba
// 1978, "Dynamic programming algorithm optimization for spoken word recognition", IEEE Trans.
// ASSP 26) over the frames of an ear. The path goes through the notes one after the other,
// with gaps between them. Each frame costs by what it leaves unexplained: reeds of the note
// that do not sound, others that do; in a gap, all that sounds. What one frame costs is bounded,
// so that a reed that bleeds in, or a note that is bent otherwise, does not throw the rest.
// A note may be left out at a cost, and begins at a cost that attacks lower, so that
// notes of one pitch are told apart. Before the first note and after the last what
// sounds costs little: the notes may be those of a part of the recording (subsequence
// alignment: Müller 2007, "Information Retrieval for Music and Motion", chapter 4).
package fit

import (
	"math"
	"slices"

	"blowdraw/pitch"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/reading"
	"blowdraw/tabber/tab"
)

// Costs, in nats for a frame or for a note. They were set on made clips as a whole; halved or
// doubled they place the notes nearly as well.
const (
	mostWrong = 4.0  // of a frame of a note
	others    = 0.1  // share of what sounds beside a note that counts,
	mostOther = 1.5  // and its bound
	mostGap   = 0.25 // of a frame of a gap
	outside   = 0.5  // share of a gap's cost that counts before the first note and after the last
	leftOut   = 12.0 // of a note that is not there
	mostBegin = 4.0  // of beginning where nothing is attacked
)

// Laid is a note in its place.
type Laid struct {
	tab.Event
	Found   bool       // it is heard there
	Instead *tab.Event // what is heard instead of it; nil if nothing is
}

// Result is what a recording says of notes in order.
type Result struct {
	Notes       []Laid
	Added       []tab.Event // heard between the first and the last note, and not among them
	TuningCents float64
}

// Lay notes onto what an ear heard, in which a reader has read some events. The notes
// keep all but their times; one that is not found lies between its neighbours, or
// where something else is heard instead, and is in doubt.
func Lay(r reading.Reader, f pitch.Frames, notes, heard []tab.Event) Result {
	var out Result
	spans := align(costsOf(r, f, notes))
	for i, s := range spans {
		n := Laid{Event: notes[i]}
		if s.from >= 0 && !crumb(f, notes[i], s, heard) {
			n.Start, n.End, n.Found = f.Time(s.from), f.Time(s.to), true
			n.Event = r.Heard(f, n.Event)
			n.Pitches = pitchesOf(r, f, n.Event, s)
		}
		out.Notes = append(out.Notes, n)
	}
	out.Notes, out.Added = compared(out.Notes, heard)
	out.Notes = placed(out.Notes, f)
	return out
}

// soonest is the least time in seconds after which a player can begin a note again with the
// breath or the tongue (common practice, no source: some 14 strokes a second).
const soonest = 0.06

// crumb reports whether a note was laid where another is heard, in the shortest of times: the
// path had to put it somewhere.
func crumb(f pitch.Frames, note tab.Event, s span, heard []tab.Event) bool {
	from, to := f.Time(s.from), f.Time(s.to)
	return to-from < soonest && slices.ContainsFunc(heard, func(e tab.Event) bool {
		mid := (from + to) / 2
		return e.Start < mid && mid < e.End && e.End-e.Start > 2*(to-from) &&
			tab.Token(e.Actions) != tab.Token(note.Actions)
	})
}

// pitchesOf a note that was found: as measured there.
func pitchesOf(r reading.Reader, f pitch.Frames, e tab.Event, s span) []float64 {
	var out []float64
	for _, a := range e.Actions {
		row := lattice.Row(r.Harp, a)
		if row < 0 || row >= pitch.Rows {
			return e.Pitches
		}
		out = append(out, reading.PitchOf(f, row, lattice.Span{From: s.from, To: s.to}))
	}
	return out
}

// costs of a path: of frame t in a gap, in note k, and of beginning note k there. Notes of
// the same tab share theirs.
type costs struct {
	frames, notes int
	gap           []float64   // one for each frame
	kind          []int       // of each note
	wrong, begin  [][]float64 // of each kind, one for each frame
}

// costsOf frames.
func costsOf(r reading.Reader, f pitch.Frames, notes []tab.Event) costs {
	c := costs{frames: f.N, notes: len(notes), gap: make([]float64, f.N)}
	odds := make([]float64, f.N*pitch.Rows)
	sounding := make([]float64, f.N) // sum over rows of what speaks for them
	for t := range f.N {
		for row := range pitch.Rows {
			p := lattice.Clip(float64(f.Sounding[t*pitch.Rows+row]))
			odds[t*pitch.Rows+row] = math.Log(p / (1 - p))
			sounding[t] += max(0, odds[t*pitch.Rows+row])
		}
		c.gap[t] = min(mostGap, sounding[t])
	}
	kinds := map[string]int{}
	for _, e := range notes {
		k, known := kinds[tab.Token(e.Actions)]
		if !known {
			k = len(kinds)
			kinds[tab.Token(e.Actions)] = k
			wrong, begin := costsOfRows(rowsOf(r, e), f, odds, sounding)
			c.wrong, c.begin = append(c.wrong, wrong), append(c.begin, begin)
		}
		c.kind = append(c.kind, k)
	}
	return c
}

// rowsOf an event that the ear has.
func rowsOf(r reading.Reader, e tab.Event) []int {
	var out []int
	for _, a := range e.Actions {
		if row := lattice.Row(r.Harp, a); row >= 0 && row < pitch.Rows {
			out = append(out, row)
		}
	}
	return out
}

// costsOfRows that sound together: what each frame costs in them, and to begin there.
func costsOfRows(rows []int, f pitch.Frames, odds, sounding []float64) (wrong, begin []float64) {
	wrong, begin = make([]float64, f.N), make([]float64, f.N)
	for t := range f.N {
		if len(rows) == 0 { // off the ear's rows
			wrong[t], begin[t] = mostWrong, mostBegin
			continue
		}
		missing, own, attack := 0.0, 0.0, 0.0
		for _, row := range rows {
			k := t*pitch.Rows + row
			missing += max(0, -odds[k]) / float64(len(rows))
			own += max(0, odds[k])
			attack = max(attack, float64(f.Attack[k]))
		}
		wrong[t] = min(mostWrong, missing+min(mostOther, others*(sounding[t]-own)))
		q := lattice.Clip(attack)
		begin[t] = min(mostBegin, max(0, math.Log((1-q)/q)))
	}
	return wrong, begin
}

// span of frames [from, to) in which a note sounds; from is -1 if it is left out.
type span struct{ from, to int }

// How a path came to stand before note k.
const (
	fromGap = iota
	fromNote
	fromLeftOut
)

// align finds the cheapest path. A note lasts lattice.MinFrames at least.
func align(c costs) []span {
	n := c.notes
	inf := math.Inf(1)
	// Costs of the best path up to a frame: in the gap before note k, in the first, the second
	// and a later frame of note k.
	gap, first, second, later := make([]float64, n+1), filled(n, inf), filled(n, inf), filled(n, inf)
	for k := range gap {
		gap[k] = float64(k) * leftOut
	}
	before := make([]byte, c.frames*(n+1)+n+1) // how the path came before note k and frame t
	grown := make([]bool, c.frames*n)          // the later frame is the third
	ready := make([]float64, n+1)
	stand := func(t int) {
		for k := range ready {
			best, how := gap[k], byte(fromGap)
			if k > 0 && later[k-1] < best {
				best, how = later[k-1], fromNote
			}
			if k > 0 && ready[k-1]+leftOut < best {
				best, how = ready[k-1]+leftOut, fromLeftOut
			}
			ready[k], before[t*(n+1)+k] = best, how
		}
	}
	for t := range c.frames {
		stand(t)
		for k := range n {
			wrong := c.wrong[c.kind[k]][t]
			if second[k] <= later[k] {
				later[k], grown[t*n+k] = second[k], true
			}
			later[k] += wrong
			second[k] = first[k] + wrong
			first[k] = ready[k] + c.begin[c.kind[k]][t] + wrong
		}
		for k := range gap {
			cost := c.gap[t]
			if k == 0 || k == n {
				cost *= outside
			}
			gap[k] = ready[k] + cost
		}
	}
	stand(c.frames)
	return traced(c, before, grown)
}

func filled(n int, x float64) []float64 { return slices.Repeat([]float64{x}, n) }

// traced is the path back from its end.
func traced(c costs, before []byte, grown []bool) []span {
	n := c.notes
	out := make([]span, n)
	for t, k := c.frames, n; k > 0 || t > 0; {
		switch before[t*(n+1)+k] {
		case fromGap:
			if t == 0 { // the notes that are left have been left out
				k--
				out[k] = span{-1, -1}
				continue
			}
			t--
		case fromLeftOut:
			k--
			out[k] = span{-1, -1}
		case fromNote:
			k--
			to := t
			for t--; !grown[t*n+k]; t-- {
			}
			t -= lattice.MinFrames - 1
			out[k] = span{t, to}
		}
	}
	return out
}
