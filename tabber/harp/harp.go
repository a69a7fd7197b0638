// Package harp is the instrument: which note each hole, breath and bend of a
// diatonic harp gives.
//
// A [Layout] says how many semitones each reed lies above hole 1 blow; a [Harp]
// is a layout in a key; an [Action] is one reed sounded, the unit that tab is
// written in. Everything is derived from the two rows of reeds, bends and
// overbends included, so that any layout given as two rows of notes works like
// the built-in ones.
//
// Notes are MIDI numbers (60 is middle C, here called C4; MIDI 1.0), pitch
// classes count semitones from C (0 to 11).
//
//	l, _ := harp.ParseLayout("richter")
//	h, _ := harp.Parse("D", l)
//	h.MIDI(harp.Action{Breath: harp.Draw, Hole: 2})          // 69, A4
//	h.MIDI(harp.Action{Breath: harp.Draw, Hole: 3, Bend: 2}) // 71, B4
package harp

import (
	"fmt"
	"strings"
)

// Breath is the direction of the player's breath.
type Breath int8

const (
	Blow Breath = iota
	Draw
)

// String is "blow" or "draw".
func (b Breath) String() string {
	if b == Draw {
		return "draw"
	}
	return "blow"
}

// Other is the opposite breath.
func (b Breath) Other() Breath { return 1 - b }

// Action is one reed sounded. Hole counts from 1. Bend is in semitones down
// from the natural note of that hole and breath: 0 is the natural note, 1 a
// half-step bend. A negative bend is an overblow (breath Blow) or an overdraw
// (breath Draw), in semitones up from that natural note: on the common layout
// overblow 6 is {Blow, 6, -3}.
type Action struct {
	Breath Breath
	Hole   int
	Bend   int
}

// Harp is a layout in a key. Base is the MIDI number of hole 1 blow. Name is
// the key as players say it: "D", "low F", "high G".
type Harp struct {
	Name   string
	Layout Layout
	Base   int
}

// The usual harps run from G (hole 1 blow is G3) up to F# (F#4); common
// practice, no source.
const lowestUsual = 55

// Parse returns the harp of that key: "D", "Bb", "f#", "low F", "high G",
// "double low F". The usual harps have hole 1 blow at G3 (MIDI 55) to F#4 (66);
// low, double low and high ones lie one octave below, two octaves below and one
// octave above the usual harp of the same name. The key is that of hole 1 blow,
// whatever key the maker prints on it.
func Parse(key string, l Layout) (Harp, error) {
	if l.Holes() == 0 || len(l.Draw) != l.Holes() {
		return Harp{}, fmt.Errorf("layout %q: want as many draw as blow notes, at least one", l.Name)
	}
	words := strings.Fields(strings.ToLower(key))
	octave := 0
	prefix := ""
	switch {
	case len(words) > 2 && words[1] == "low" && (words[0] == "double" || words[0] == "low"):
		octave, prefix, words = -2, "double low ", words[2:]
	case len(words) > 1 && words[0] == "low":
		octave, prefix, words = -1, "low ", words[1:]
	case len(words) > 1 && words[0] == "high":
		octave, prefix, words = 1, "high ", words[1:]
	}
	pc, err := ParseKey(strings.Join(words, " "))
	if err != nil {
		return Harp{}, fmt.Errorf("harp %q is not known: want a key (%s), or low or high before a key",
			key, keyList)
	}
	base := lowestUsual + PitchClass(pc-lowestUsual) + 12*octave
	return Harp{Name: prefix + KeyName(pc), Layout: l.clone(), Base: base}, nil
}

// Key is the pitch class of hole 1 blow, 0 (C) to 11 (B).
func (h Harp) Key() int { return PitchClass(h.Base) }

// Offset is the note of an action in semitones above hole 1 blow. The hole must
// be one of the harp's.
func (h Harp) Offset(a Action) int { return h.Layout.natural(a.Breath, a.Hole) - a.Bend }

// MIDI is the note of an action as a MIDI number. The hole must be one of the
// harp's.
func (h Harp) MIDI(a Action) int { return h.Base + h.Offset(a) }

// MaxBend is [Layout.MaxBend] of the harp's layout.
func (h Harp) MaxBend(b Breath, hole int) int { return h.Layout.MaxBend(b, hole) }

// Plays reports whether the harp has that action: an existing hole, and a
// natural note, a whole-semitone bend within reach, or the hole's overbend.
func (h Harp) Plays(a Action) bool {
	if a.Hole < 1 || a.Hole > h.Layout.Holes() || (a.Breath != Blow && a.Breath != Draw) {
		return false
	}
	if a.Bend >= 0 {
		return a.Bend <= h.MaxBend(a.Breath, a.Hole)
	}
	bend, ok := h.Layout.Overbend(a.Breath, a.Hole)
	return ok && bend == a.Bend
}

// Actions lists every natural note and whole-semitone bend, hole by hole: blow,
// blow bends from shallow to deep, draw, draw bends, then, if asked for, the
// hole's overblow or overdraw.
func (h Harp) Actions(overbends bool) []Action {
	var out []Action
	for hole := 1; hole <= h.Layout.Holes(); hole++ {
		for _, b := range []Breath{Blow, Draw} {
			for bend := 0; bend <= h.MaxBend(b, hole); bend++ {
				out = append(out, Action{b, hole, bend})
			}
		}
		for _, b := range []Breath{Blow, Draw} {
			if bend, ok := h.Layout.Overbend(b, hole); overbends && ok {
				out = append(out, Action{b, hole, bend})
			}
		}
	}
	return out
}

// At lists the actions that give the MIDI note, in the order of
// [Harp.Actions]; none if the harp does not have it.
func (h Harp) At(midi int, overbends bool) []Action {
	var out []Action
	for _, a := range h.Actions(overbends) {
		if h.MIDI(a) == midi {
			out = append(out, a)
		}
	}
	return out
}

// Position is the position (1 to 12) in which a harp of one key plays in the
// key of the song, going round the circle of fifths: first is the harp's own
// key, second (cross harp) a fifth up, third two fifths up. Both keys are pitch
// classes.
func Position(harpKey, songKey int) int { return PitchClass(7*(songKey-harpKey)) + 1 }

// SongKey is the pitch class a harp plays in, in the given position (1 to 12).
// It undoes [Position].
func SongKey(harpKey, position int) int { return PitchClass(harpKey + 7*(position-1)) }

// PitchClass is how many semitones a MIDI number lies above the nearest C at or below it,
// 0 (C) to 11 (B); of an interval in semitones it is what is left without whole octaves
// up.
func PitchClass(midi int) int { return ((midi % 12) + 12) % 12 }

// Nearest is the action whose note is nearest to a MIDI note, of equals the one with the
// lesser bend, then the lower note; no overbend unless it is that note. False for a harp
// without holes.
func (h Harp) Nearest(midi int) (best Action, ok bool) {
	if over := h.At(midi, true); len(over) > 0 {
		return over[0], true
	}
	off := func(a Action) int { return max(h.MIDI(a)-midi, midi-h.MIDI(a)) }
	for _, a := range h.Actions(false) {
		if !ok || off(a) < off(best) || off(a) == off(best) && (a.Bend < best.Bend ||
			a.Bend == best.Bend && h.MIDI(a) < h.MIDI(best)) {
			best, ok = a, true
		}
	}
	return best, ok
}
