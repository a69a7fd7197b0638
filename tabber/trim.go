package tabber

import (
	"slices"

	"blowdraw/pitch"
	"blowdraw/tabber/harp"
)

// tail says when the end of a span is only the room: the state's own partials
// have fallen by fall dB against the span's usual level while the ear is less
// sure than sounding that they sound, or by surely dB whatever the ear says.
type tail struct{ fall, sounding, surely float64 }

// trim ends each span where its own partials have died away, or holds it on
// before silence while they have not.
func (t *Transcriber) trim(f pitch.Frames, spans []span) []span {
	for i, s := range spans {
		next := f.N
		if i+1 < len(spans) {
			next = spans[i+1].from
		}
		to := t.dead(f, s)
		if to == s.to {
			to = t.held(f, s, next)
		}
		spans[i].to = to
	}
	return spans
}

const (
	heldLevel    = 3   // dB below its usual level at which a note surely still sounds
	heldSounding = 0.1 // least probability of it that the ear has to leave
	heldDips     = 6   // frames in a row that may fall short, as vibrato does
)

// held is the frame up to which a note that the ear has begun to doubt sounds on
// as loudly as before, next at most.
func (t *Transcriber) held(f pitch.Frames, s span, next int) int {
	rows := t.states[s.state].rows
	usual := usualLevel(f, rows, s.from, s.to)
	end := s.to
	for k := s.to; k < next && k < end+heldDips; k++ {
		if surest(f, rows, k) > heldSounding && f.LoudOf(rows, k) > usual-heldLevel {
			end = k + 1
		}
	}
	return end
}

// dead is the frame from which on a span is only its tail, s.to if it has none.
func (t *Transcriber) dead(f pitch.Frames, s span) int {
	rows := t.states[s.state].rows
	usual := usualLevel(f, rows, s.from, s.to)
	end := s.to
	for end > s.from+minFrames {
		fallen := usual - f.LoudOf(rows, end-1)
		if fallen < t.method.tail.surely && (fallen < t.method.tail.fall || surest(f, rows, end-1) > t.method.tail.sounding) {
			break
		}
		end--
	}
	return end
}

// usualLevel is the median level in dB of the rows' partials over frames
// [from, to).
func usualLevel(f pitch.Frames, rows []int, from, to int) float64 {
	level := make([]float32, to-from)
	for k := range level {
		level[k] = float32(f.LoudOf(rows, from+k))
	}
	return pitch.Percentile(level, 0.5)
}

// surest is the probability of the row that most surely sounds.
func surest(f pitch.Frames, rows []int, at int) float64 {
	top := float32(0)
	for _, r := range rows {
		top = max(top, f.Sounding[at*pitch.Rows+r])
	}
	return float64(top)
}

// soonest is the least time in seconds after which a player can begin a note again
// with the breath or the tongue (common practice, no source: some 14 strokes a second).
const soonest = 0.06

// joinLate makes one event of a note and the reeds that join it shortly after
// without an attack of the whole, of what would be two strokes too close
// together, and of a bend and what it is let go into at once: reeds speak in
// more than one step.
func (t *Transcriber) joinLate(f pitch.Frames, spans []span) []span {
	var out []span
	for _, s := range spans {
		n := len(out)
		if n > 0 && t.leadsIn(f, out[n-1], s) {
			n--
			out = out[:n]
		}
		switch {
		case n > 0 && (t.stutters(out[n-1], s) || t.falls(f, out[n-1], s)):
			out[n-1].to = s.to
			continue
		case n > 0 && (t.joins(f, out[n-1], s) || t.scooped(out[n-1], s)):
			s.from, s.found = out[n-1].from, s.from
			out = out[:n-1]
		}
		out = append(out, s)
	}
	return out
}

// stutters reports whether s only goes on with the note before it.
func (t *Transcriber) stutters(first, s span) bool {
	return first.state == s.state && first.to == s.from && seconds(first, s) < soonest
}

// scooped reports whether the bend before s is only the scoop into it: let go on the
// same hole, alone or with others, sooner than a player can begin another note.
func (t *Transcriber) scooped(bend, s span) bool {
	a, b := t.states[bend.state].actions, t.states[s.state].actions
	if len(a) != 1 || a[0].Bend < 1 || bend.to != s.from || seconds(bend, s) >= soonest {
		return false
	}
	return slices.ContainsFunc(b, func(o harp.Action) bool {
		return o.Hole == a[0].Hole && o.Breath == a[0].Breath && o.Bend >= 0 && o.Bend < a[0].Bend
	})
}

const (
	fallSeconds = 0.25 // the end of a note falls no longer than this,
	fallShort   = 25   // and comes no nearer than so many cents, in the middle, to the bend below
)

// falls reports whether s is no bend of its own but the fall at the end of the note
// before it: it is not begun, and its pitch does not get as far as the bend's.
func (t *Transcriber) falls(f pitch.Frames, note, s span) bool {
	a, b := t.states[note.state].actions, t.states[s.state].actions
	if len(a) != 1 || len(b) != 1 || note.to != s.from || float64(s.to-s.from)*pitch.HopSeconds > fallSeconds {
		return false
	}
	if a[0].Hole != b[0].Hole || a[0].Breath != b[0].Breath || a[0].Bend < 0 || b[0].Bend != a[0].Bend+1 {
		return false
	}
	r := t.states[s.state].rows[0]
	expected := float64(f.Axis.Base+r-pitch.RowBelow) + f.Axis.Cents/100
	return attack(f, r, s.from) < 0.5 && 100*(measured(f, r, s)-expected) > fallShort
}

// seconds from the begin of one span to that of another.
func seconds(first, s span) float64 { return float64(s.from-first.from) * pitch.HopSeconds }

// aside is by how many dB reeds that only speak on the way into others are softer than
// in what follows; notes that were meant are hardly ever as soft (seeds 77, 99 and 4242 of
// the hard set and the bench: 10 dB at most).
const aside = 12

// leadsIn reports whether the reeds of the first span only began to speak on the way into s.
func (t *Transcriber) leadsIn(f pitch.Frames, first, s span) bool {
	if !t.grows(first, s) {
		return false
	}
	const settled = 20 // frames after which a note is as loud as it gets
	rows := t.states[first.state].rows
	return usualLevel(f, rows, s.from, min(s.to, s.from+settled))-usualLevel(f, rows, first.from, first.to) >= aside
}

// grows reports whether s follows soon with all reeds of the first span and more.
func (t *Transcriber) grows(first, s span) bool {
	a, b := t.states[first.state], t.states[s.state]
	return first.to == s.from && seconds(first, s) <= t.method.late &&
		len(a.rows) < len(b.rows) && a.breath == b.breath && subset(a.rows, b.rows)
}

func (t *Transcriber) joins(f pitch.Frames, first, s span) bool {
	if !t.grows(first, s) {
		return false
	}
	for _, r := range t.states[first.state].rows {
		if f.Attack[s.from*pitch.Rows+r] > 0.5 && seconds(first, s) >= soonest {
			return false // begun again
		}
	}
	return true
}
