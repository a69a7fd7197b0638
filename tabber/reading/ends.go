package reading

import (
	_ "embed"
	"slices"

	"blowdraw/decode/logistic"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/lattice"
)

// Ends say when the end of a span is only the room - the state's own partials
// have fallen by Fall dB against the span's usual level while the ear is less
// sure than Sounding that they sound, or by Surely dB whatever the ear says - and
// within how many seconds of its event a second reed may come in. A reed that is Apart dB
// or more under the loudest of those with it is not heard there.
type Ends struct{ Fall, Sounding, Surely, Late, Apart float64 }

// EndNumbers names the numbers of Ends, in order.
var EndNumbers = []string{"fall", "sounding", "surely", "late", "apart"}

//go:embed ends.json
var endsFile []byte

// LearnedEnds are those searched together with the learned ear's decision.
func LearnedEnds() Ends {
	w := logistic.MustRead(endsFile, EndNumbers).Weights
	return Ends{Fall: w[0], Sounding: w[1], Surely: w[2], Late: w[3], Apart: w[4]}
}

// Bordered are spans with their begins and ends set right. Where the ear measured how
// loud each row's own partials are, reeds that speak late are joined to their event, and
// ends follow the partials; otherwise begins and ends follow attacks and the level.
func (r Reader) Bordered(f pitch.Frames, spans []lattice.Span) []lattice.Span {
	if f.Loud == nil {
		return r.sharpened(f, spans)
	}
	return r.trimmed(f, r.merged(f, spans))
}

// trimmed ends each span where its own partials have died away, or holds it on
// before silence while they have not.
func (r Reader) trimmed(f pitch.Frames, spans []lattice.Span) []lattice.Span {
	out := slices.Clone(spans)
	for i, s := range spans {
		next := f.N
		if i+1 < len(spans) {
			next = spans[i+1].From
		}
		to := r.dead(f, s)
		if to == s.To {
			to = r.held(f, s, next)
		}
		out[i].To = to
	}
	return out
}

const (
	heldLevel    = 3   // dB below its usual level at which a note surely still sounds
	heldSounding = 0.1 // least probability of it that the ear has to leave
	heldDips     = 6   // frames in a row that may fall short, as vibrato does
)

// held is the frame up to which a note that the ear has begun to doubt sounds on
// as loudly as before, next at most.
func (r Reader) held(f pitch.Frames, s lattice.Span, next int) int {
	rows := r.States[s.State].Rows
	usual := f.UsualLoud(rows, s.From, s.To)
	end := s.To
	for k := s.To; k < next && k < end+heldDips; k++ {
		if surest(f, rows, k) > heldSounding && f.LoudOf(rows, k) > usual-heldLevel {
			end = k + 1
		}
	}
	return end
}

// dead is the frame from which on a span is only its tail, s.To if it has none.
func (r Reader) dead(f pitch.Frames, s lattice.Span) int {
	rows := r.States[s.State].Rows
	usual := f.UsualLoud(rows, s.From, s.To)
	end := s.To
	for end > s.From+lattice.MinFrames {
		fallen := usual - f.LoudOf(rows, end-1)
		if fallen < r.Ends.Surely && (fallen < r.Ends.Fall || surest(f, rows, end-1) > r.Ends.Sounding) {
			break
		}
		end--
	}
	return end
}

// surest is the probability of the row that most surely sounds.
func surest(f pitch.Frames, rows []int, at int) float64 {
	top := float32(0)
	for _, row := range rows {
		top = max(top, f.Sounding[at*pitch.Rows+row])
	}
	return float64(top)
}

// soonest is the least time in seconds after which a player can begin a note again
// with the breath or the tongue: strokes of recorded players came 58 ms apart, five frames.
const soonest = 0.05

// merged makes one span of a note and the reeds that join it shortly after
// without an attack of the whole, of what would be two strokes too close
// together, and of a bend and what it is let go into at once: reeds speak in
// more than one step.
func (r Reader) merged(f pitch.Frames, spans []lattice.Span) []lattice.Span {
	var out []lattice.Span
	for _, s := range spans {
		n := len(out)
		if n > 0 && r.leadsIn(f, out[n-1], s) {
			n--
			out = out[:n]
		}
		switch {
		case n > 0 && (r.stutters(out[n-1], s) || r.falls(f, out[n-1], s)):
			out[n-1].To = s.To
			continue
		case n > 0 && (r.speaksLate(f, out[n-1], s) || r.scooped(out[n-1], s)):
			s.From, s.Found = out[n-1].From, s.From
			out = out[:n-1]
		}
		out = append(out, s)
	}
	return out
}

// stutters reports whether s only goes on with the note before it.
func (r Reader) stutters(first, s lattice.Span) bool {
	return first.State == s.State && first.To == s.From && seconds(first, s) < soonest
}

// scooped reports whether the bend before s is only the scoop into it: let go on the
// same hole, alone or with others, sooner than a player can begin another note.
func (r Reader) scooped(bend, s lattice.Span) bool {
	a, b := r.States[bend.State].Actions, r.States[s.State].Actions
	if len(a) != 1 || a[0].Bend < 1 || bend.To != s.From || seconds(bend, s) >= soonest {
		return false
	}
	return slices.ContainsFunc(b, func(o harp.Action) bool {
		return o.Hole == a[0].Hole && o.Breath == a[0].Breath && o.Bend >= 0 && o.Bend < a[0].Bend
	})
}

const (
	fallSeconds = 0.25 // the end of a note falls no longer than this,
	fallShort   = 25   // and comes no nearer than so many cents, in the middle, to the bend below
	begun       = 0.5  // probability of an attack from which a reed is begun
)

// falls reports whether s is no bend of its own but the fall at the end of the note
// before it.
func (r Reader) falls(f pitch.Frames, note, s lattice.Span) bool {
	a, b := r.States[note.State].Actions, r.States[s.State].Actions
	if len(a) != 1 || len(b) != 1 || note.To != s.From || float64(s.To-s.From)*pitch.HopSeconds > fallSeconds {
		return false
	}
	if a[0].Hole != b[0].Hole || a[0].Breath != b[0].Breath || a[0].Bend < 0 || b[0].Bend != a[0].Bend+1 {
		return false
	}
	row := r.States[s.State].Rows[0]
	expected := f.Axis.MIDI(row) + f.Axis.Cents/100
	return attackNear(f, row, s.From) < begun && 100*(PitchOf(f, row, s)-expected) > fallShort
}

// seconds from the begin of one span to that of another.
func seconds(first, s lattice.Span) float64 { return float64(s.From-first.From) * pitch.HopSeconds }

// aside is by how many dB reeds that only speak on the way into others are softer than
// in what follows; notes that were meant are hardly ever as soft (seeds 77, 99 and 4242 of
// the hard set and the bench: 10 dB at most).
const aside = 12

// leadsIn reports whether the reeds of the first span only began to speak on the way into s.
func (r Reader) leadsIn(f pitch.Frames, first, s lattice.Span) bool {
	if !r.grows(first, s) {
		return false
	}
	const settled = 20 // frames after which a note is as loud as it gets
	rows := r.States[first.State].Rows
	return f.UsualLoud(rows, s.From, min(s.To, s.From+settled))-f.UsualLoud(rows, first.From, first.To) >= aside
}

// grows reports whether s follows soon with all reeds of the first span and more.
func (r Reader) grows(first, s lattice.Span) bool {
	a, b := r.States[first.State], r.States[s.State]
	return first.To == s.From && seconds(first, s) <= r.Ends.Late &&
		len(a.Rows) < len(b.Rows) && a.Breath == b.Breath && lattice.Subset(a.Rows, b.Rows)
}

// speaksLate reports whether s is the first span with reeds that speak later.
func (r Reader) speaksLate(f pitch.Frames, first, s lattice.Span) bool {
	if !r.grows(first, s) {
		return false
	}
	for _, row := range r.States[first.State].Rows {
		if f.Attack[s.From*pitch.Rows+row] > begun && seconds(first, s) >= soonest {
			return false // begun again
		}
	}
	return true
}

const (
	lateFrames  = 6  // a pitch track may notice a new note this late
	scoopFrames = 8  // a glide into a note takes no longer than this (93 ms)
	fallDB      = 12 // a note before silence ends where the level has fallen this far
)

// sharpened moves starts back to the attack that a pitch track notices late, and
// ends before silence to where the level falls; too short remains go.
func (r Reader) sharpened(f pitch.Frames, spans []lattice.Span) []lattice.Span {
	var out []lattice.Span
	for i, s := range spans {
		row := r.States[s.State].Rows[0]
		before := 0
		if len(out) > 0 {
			before = out[len(out)-1].From + lattice.MinFrames
		}
		best := float32(begun)
		for k := s.From; k >= max(before, s.From-lateFrames); k-- {
			if a := f.Attack[k*pitch.Rows+row]; a > best {
				best, s.From = a, k
			}
		}
		if n := len(out); n > 0 && out[n-1].To > s.From {
			out[n-1].To = s.From
		}
		if i+1 == len(spans) || spans[i+1].From > s.To+1 {
			s.To = fallen(f, s)
		}
		if n := len(out); n > 0 && r.glides(f, out[n-1], s) {
			s.From = out[n-1].From
			out = out[:n-1]
		}
		if s.To-s.From >= lattice.MinFrames {
			out = append(out, s)
		}
	}
	return out
}

// glides reports whether a short deeper bend only glides into the next note.
func (r Reader) glides(f pitch.Frames, glide, note lattice.Span) bool {
	a, b := r.States[glide.State].Actions, r.States[note.State].Actions
	if len(a) != 1 || len(b) != 1 || glide.To != note.From || glide.To-glide.From > scoopFrames {
		return false
	}
	attacked := f.Attack[note.From*pitch.Rows+r.States[note.State].Rows[0]] >= begun
	return !attacked && a[0].Hole == b[0].Hole && a[0].Breath == b[0].Breath && a[0].Bend > b[0].Bend
}

// fallen is the frame of a span after which the level stays below its median by
// more than fallDB.
func fallen(f pitch.Frames, s lattice.Span) int {
	usual := pitch.Percentile(f.Level[s.From:s.To], 0.5)
	to := s.To
	for to > s.From+lattice.MinFrames && float64(f.Level[to-1]) < usual-fallDB {
		to--
	}
	return to
}
