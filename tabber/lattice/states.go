package lattice

import (
	"math"
	"slices"

	"blowdraw/pitch"
	"blowdraw/tabber/harp"
)

// State is one thing a player can be doing: nothing (no rows), some actions of
// one breath, or sounding a pitch that the harp does not have (rows but no
// actions).
type State struct {
	Actions []harp.Action
	Rows    []int   // of the ears' axis, one for each action
	Breath  int     // pitch.NoBreath (none or unknown), pitch.Blowing or pitch.Drawing
	Either  bool    // the ear may hear it as either breath
	Prior   float64 // log weight of choosing it
	Hole    float64 // where on the harp: the mean of the holes
}

// States are all that can be decided for: silence first, then the rest.
type States []State

// Row is the row of a note on the ears' axis; it may lie outside [0, pitch.Rows).
func Row(h harp.Harp, a harp.Action) int { return h.Offset(a) + pitch.RowBelow }

// Choice says which states are listed.
type Choice struct {
	Overbends bool // overblows and overdraws
	Blow3     bool // blow 3 beside draw 2, where both are the same note; without it draw 2 stands for both
	Several   bool // double stops, splits and chords
}

// List lists silence, then everything that a harp can do.
func List(h harp.Harp, c Choice, p Priors) States {
	out := States{{}}
	add := func(prior float64, actions ...harp.Action) {
		if s, ok := stateOf(h, prior, actions); ok {
			out = append(out, s)
		}
	}
	for _, a := range h.Actions(c.Overbends) {
		switch {
		case a.Bend < 0:
			add(p.Overbend, a)
		case a.Bend > 0:
			add(p.Bend, a)
		case !c.Blow3 && twin(h, a): // draw 2 stands for both
		default:
			add(0, a)
			above := harp.Action{Breath: harp.Blow, Hole: a.Hole + 1}
			out[len(out)-1].Either = !c.Blow3 && a.Breath == harp.Draw && a.Hole < h.Layout.Holes() && twin(h, above)
		}
	}
	if c.Several {
		severals(h, p, add)
	}
	return append(out, unplayables(h, out, p)...)
}

// stateOf some actions of one breath; false if the axis lacks a row.
func stateOf(h harp.Harp, prior float64, actions []harp.Action) (State, bool) {
	s := State{Actions: actions, Prior: prior, Breath: breathOf(actions[0].Breath)}
	for _, a := range actions {
		r := Row(h, a)
		if r < 0 || r >= pitch.Rows {
			return s, false
		}
		s.Rows = append(s.Rows, r)
		s.Hole += float64(a.Hole) / float64(len(actions))
	}
	return s, true
}

// breathOf is a player's breath as the ears number it.
func breathOf(b harp.Breath) int {
	if b == harp.Draw {
		return pitch.Drawing
	}
	return pitch.Blowing
}

// twin reports whether a blow note is also the next lower hole's draw note,
// which blues players nearly always mean (common practice, no source).
func twin(h harp.Harp, a harp.Action) bool {
	if a.Breath != harp.Blow || a.Hole < 2 || a.Bend != 0 {
		return false
	}
	return h.MIDI(a) == h.MIDI(harp.Action{Breath: harp.Draw, Hole: a.Hole - 1})
}

// severals adds double stops, splits and chords.
func severals(h harp.Harp, p Priors, add func(float64, ...harp.Action)) {
	for _, b := range []harp.Breath{harp.Blow, harp.Draw} {
		for i := 1; i <= h.Layout.Holes(); i++ {
			doubles(h, p, b, i, add)
			splits(h, p, b, i, add)
			chords(h, p, b, i, add)
		}
	}
}

// doubles adds what is played on a hole and the next, with a bend on one side at most.
func doubles(h harp.Harp, p Priors, b harp.Breath, hole int, add func(float64, ...harp.Action)) {
	at := func(hole, bend int) harp.Action { return harp.Action{Breath: b, Hole: hole, Bend: bend} }
	if hole+1 > h.Layout.Holes() {
		return
	}
	add(p.Double, at(hole, 0), at(hole+1, 0))
	for bend := 1; bend <= h.MaxBend(b, hole); bend++ {
		add(p.BentDouble, at(hole, bend), at(hole+1, 0))
	}
	for bend := 1; bend <= h.MaxBend(b, hole+1); bend++ {
		add(p.BentDouble, at(hole, 0), at(hole+1, bend))
	}
}

// splits adds the corners two to four holes apart of which a hole is the lower one.
func splits(h harp.Harp, p Priors, b harp.Breath, hole int, add func(float64, ...harp.Action)) {
	low := harp.Action{Breath: b, Hole: hole}
	for gap := 2; gap <= 4 && hole+gap <= h.Layout.Holes(); gap++ {
		high := harp.Action{Breath: b, Hole: hole + gap}
		prior := p.RareSplit
		if gap == 3 {
			prior = p.Split
		} else if h.MIDI(high)-h.MIDI(low) == 12 {
			prior = p.WideOctave
		}
		add(prior, low, high)
	}
}

// chords adds three and four neighbours of which a hole is the lowest.
func chords(h harp.Harp, p Priors, b harp.Breath, hole int, add func(float64, ...harp.Action)) {
	for size := 3; size <= 4 && hole+size-1 <= h.Layout.Holes(); size++ {
		var chord []harp.Action
		for k := range size {
			chord = append(chord, harp.Action{Breath: b, Hole: hole + k})
		}
		if size > 3 {
			add(p.BigChord, chord...)
		} else {
			add(p.Chord, chord...)
		}
	}
}

// unplayables are the rows within the harp's range that no action gives.
func unplayables(h harp.Harp, have States, p Priors) States {
	covered := map[int]bool{}
	for _, s := range have {
		if len(s.Rows) == 1 {
			covered[s.Rows[0]] = true
		}
	}
	var out States
	for r := range pitch.Rows {
		if !covered[r] {
			out = append(out, State{Rows: []int{r}, Prior: p.Unplayable, Hole: nearestHole(h, r)})
		}
	}
	return out
}

func nearestHole(h harp.Harp, r int) float64 {
	best, hole := math.MaxInt, 0
	for _, a := range h.Actions(false) {
		if d := apart(Row(h, a), r); d < best {
			best, hole = d, a.Hole
		}
	}
	return float64(hole)
}

// apart is by how many rows two rows differ.
func apart(a, b int) int { return max(a-b, b-a) }

// Nearest lists the n actions of a harp whose notes lie nearest to a row.
func Nearest(h harp.Harp, overbends bool, row, n int) []harp.Action {
	acts := h.Actions(overbends)
	slices.SortStableFunc(acts, func(a, b harp.Action) int {
		return apart(Row(h, a), row) - apart(Row(h, b), row)
	})
	return acts[:min(n, len(acts))]
}

// SameSound lists the states that differ from state i in name only, such as draw 2
// and blow 3, state i among them.
func (s States) SameSound(i int) []int {
	var out []int
	for j, o := range s {
		if len(o.Rows) == 1 && len(s[i].Rows) == 1 && o.Rows[0] == s[i].Rows[0] || j == i {
			out = append(out, j)
		}
	}
	return out
}

// Playing is the state of just these actions, -1 if there is none.
func (s States) Playing(actions []harp.Action) int {
	return slices.IndexFunc(s, func(o State) bool { return slices.Equal(o.Actions, actions) })
}

// Sounding is the first state of just this row, -1 if there is none.
func (s States) Sounding(row int) int {
	return slices.IndexFunc(s, func(o State) bool { return len(o.Rows) == 1 && o.Rows[0] == row })
}

// IsOctave reports whether a state is two reeds an octave apart.
func (s State) IsOctave() bool { return len(s.Actions) == 2 && s.Rows[1]-s.Rows[0] == 12 }

// natural reports whether a state is a single note without a bend.
func (s State) natural() bool { return len(s.Actions) == 1 && s.Actions[0].Bend == 0 }

// OctaveOf are the states of a natural note and of the octave above it that a state
// is one of; false if it is neither. A note that is also another hole's, as draw 2 is
// blow 3, may be the lower one of an octave by either name.
func (s States) OctaveOf(i int) (low, both int, ok bool) {
	st := s[i]
	switch {
	case st.natural():
		low, both = i, slices.IndexFunc(s, func(o State) bool { return o.IsOctave() && o.Rows[0] == st.Rows[0] })
	case st.IsOctave():
		low, both = -1, i
		for j, o := range s {
			if o.natural() && o.Rows[0] == st.Rows[0] && (low < 0 || o.Prior > s[low].Prior) {
				low = j
			}
		}
	default:
		return 0, 0, false
	}
	return low, both, low >= 0 && both >= 0
}

// Has reports whether some state of several reeds has a row besides all rows of
// another state, which lacks it.
func (s States) Has(row int, besides State) bool {
	if slices.Contains(besides.Rows, row) {
		return false
	}
	for _, o := range s {
		if len(o.Rows) > len(besides.Rows) && slices.Contains(o.Rows, row) && Subset(besides.Rows, o.Rows) {
			return true
		}
	}
	return false
}

// Subset reports whether b has all of a.
func Subset(a, b []int) bool {
	for _, r := range a {
		if !slices.Contains(b, r) {
			return false
		}
	}
	return true
}

// With adds a state for actions that none has, such as a chord with a hole left out,
// of a log weight. The states are the same if there is one, or if the axis lacks a row.
func (s States) With(h harp.Harp, prior float64, actions []harp.Action) States {
	if len(actions) == 0 || s.Playing(actions) >= 0 {
		return s
	}
	state, ok := stateOf(h, prior, actions)
	if !ok {
		return s
	}
	return append(slices.Clone(s), state)
}

// cost is the log weight of beginning state to while in state from.
func (m Moves) cost(from, to *State) float64 {
	switch {
	case len(to.Rows) == 0:
		return m.Stop
	case len(from.Rows) == 0:
		return m.Start + to.Prior
	}
	c := m.Change + to.Prior
	if from.Breath != to.Breath && from.Breath*to.Breath > 0 {
		c += m.Breath
	}
	return c + max(m.Farthest, m.Jump*max(0, math.Abs(from.Hole-to.Hole)-1))
}
