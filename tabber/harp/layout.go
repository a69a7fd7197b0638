package harp

import (
	"fmt"
	"slices"
	"strings"
)

// Layout is a tuning: for each hole the natural blow and draw note in
// semitones above hole 1 blow. Index 0 is hole 1; both rows have the same
// length, and Blow[0] is 0.
type Layout struct {
	Name       string
	Blow, Draw []int
}

// The tunings players commonly own (common practice, no source). Each is named
// after what it is in first position; a maker may print another key on it.
var layouts = []Layout{
	{
		Name: "richter",
		Blow: []int{0, 4, 7, 12, 16, 19, 24, 28, 31, 36},
		Draw: []int{2, 7, 11, 14, 17, 21, 23, 26, 29, 33},
	},
	{
		Name: "country", // draw 5 up a semitone
		Blow: []int{0, 4, 7, 12, 16, 19, 24, 28, 31, 36},
		Draw: []int{2, 7, 11, 14, 18, 21, 23, 26, 29, 33},
	},
	{
		Name: "raised-blow-3", // blow 3 up a tone
		Blow: []int{0, 4, 9, 12, 16, 19, 24, 28, 31, 36},
		Draw: []int{2, 7, 11, 14, 17, 21, 23, 26, 29, 33},
	},
	{
		Name: "natural-minor", // minor blow chord, minor draw chord: a natural minor scale in second position
		Blow: []int{0, 3, 7, 12, 15, 19, 24, 27, 31, 36},
		Draw: []int{2, 7, 10, 14, 17, 21, 22, 26, 29, 33},
	},
	{
		Name: "harmonic-minor", // minor blow chord, flat sixth: a harmonic minor scale in first position
		Blow: []int{0, 3, 7, 12, 15, 19, 24, 27, 31, 36},
		Draw: []int{2, 7, 11, 14, 17, 20, 23, 26, 29, 32},
	},
}

// Layouts returns the built-in layouts, the common (Richter) one first. The
// caller owns the result.
func Layouts() []Layout {
	out := make([]Layout, len(layouts))
	for i, l := range layouts {
		out[i] = l.clone()
	}
	return out
}

// ParseLayout returns the built-in layout of the given name, in upper or lower
// case. The error lists the known names.
func ParseLayout(name string) (Layout, error) {
	var known []string
	for _, l := range layouts {
		if strings.EqualFold(strings.TrimSpace(name), l.Name) {
			return l.clone(), nil
		}
		known = append(known, l.Name)
	}
	return Layout{}, fmt.Errorf("layout %q is not known: want one of %s", name, strings.Join(known, ", "))
}

// Holes is the number of holes.
func (l Layout) Holes() int { return len(l.Blow) }

// Equal reports whether both layouts have the same notes, whatever their names.
func (l Layout) Equal(m Layout) bool {
	return slices.Equal(l.Blow, m.Blow) && slices.Equal(l.Draw, m.Draw)
}

func (l Layout) clone() Layout {
	return Layout{Name: l.Name, Blow: slices.Clone(l.Blow), Draw: slices.Clone(l.Draw)}
}

// natural is the natural note of a hole (1 to Holes) in semitones above hole 1
// blow.
func (l Layout) natural(b Breath, hole int) int {
	if b == Blow {
		return l.Blow[hole-1]
	}
	return l.Draw[hole-1]
}

// MaxBend is the number of whole semitones that a note of this hole bends
// down. Only the higher reed of a hole bends, and its pitch stays between the
// two notes of the hole (Bahnson, Antaki & Beery 1998, "Acoustical and
// physical dynamics of the diatonic harmonica", JASA 103(4)), so it reaches to
// one semitone above the lower reed. The hole must be 1 to Holes.
func (l Layout) MaxBend(b Breath, hole int) int {
	return max(0, l.natural(b, hole)-l.natural(b.Other(), hole)-1)
}

// Overbend is the bend (a negative number) of the overblow (b is Blow) or
// overdraw (b is Draw) of a hole, and false where there is none. An overblow
// makes the draw reed of the hole sound one semitone above its natural note,
// on holes whose draw reed is the higher; an overdraw likewise the blow reed
// where that is the higher (Bahnson, Antaki & Beery 1998; that it is taken as
// one semitone is common practice, no source).
func (l Layout) Overbend(b Breath, hole int) (bend int, ok bool) {
	own, other := l.natural(b, hole), l.natural(b.Other(), hole)
	if other <= own {
		return 0, false
	}
	return own - other - 1, true
}
