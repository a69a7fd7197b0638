package tabber

import (
	"math"

	"blowdraw/pitch"
	"blowdraw/tabber/harp"
)

// state is one thing a player can be doing: nothing (no rows), some actions of
// one breath, or sounding a pitch that the harp does not have (rows but no
// actions).
type state struct {
	actions []harp.Action
	rows    []int
	breath  int     // 0 none or unknown, 1 blow, 2 draw
	either  bool    // the ear may hear it as either breath
	prior   float64 // log weight of choosing it
	hole    float64 // where on the harp, mean of the holes
}

// priors are log weights of kinds of states against a natural single note:
// common practice, no source, and left coarse on purpose.
type priors struct {
	bend, overbend, double, bentDouble, split, wideOctave, rareSplit, chord, bigChord, unplayable float64
}

// usual are the priors of an ear that hears several reeds.
var usual = priors{
	bend: -0.2, overbend: -2, double: -0.5, bentDouble: -2, split: -1, rareSplit: -2.5,
	wideOctave: -1, chord: -1, bigChord: -1, unplayable: -6,
}

// row of a note on the ears' axis.
func row(h harp.Harp, a harp.Action) int { return h.Offset(a) + pitch.RowBelow }

// states lists silence, then everything the harp can do. With several false
// only single notes.
func states(h harp.Harp, opt Options, p priors, several bool) []state {
	out := []state{{}}
	add := func(prior float64, actions ...harp.Action) {
		s := state{actions: actions, prior: prior, breath: 1 + int(actions[0].Breath)}
		for _, a := range actions {
			r := row(h, a)
			if r < 0 || r >= pitch.Rows {
				return
			}
			s.rows = append(s.rows, r)
			s.hole += float64(a.Hole) / float64(len(actions))
		}
		out = append(out, s)
	}
	for _, a := range h.Actions(opt.Overbends) {
		switch {
		case a.Bend < 0:
			add(p.overbend, a)
		case a.Bend > 0:
			add(p.bend, a)
		case !opt.Blow3 && twin(h, a): // draw 2 stands for both
		default:
			add(0, a)
			above := harp.Action{Breath: harp.Blow, Hole: a.Hole + 1}
			out[len(out)-1].either = !opt.Blow3 && a.Breath == harp.Draw && a.Hole < h.Layout.Holes() && twin(h, above)
		}
	}
	if several {
		severals(h, p, add)
	}
	return append(out, unplayables(h, out, p)...)
}

// twin reports whether a blow note is also the next lower hole's draw note,
// which blues players nearly always mean (common practice, no source).
func twin(h harp.Harp, a harp.Action) bool {
	if a.Breath != harp.Blow || a.Hole < 2 || a.Bend != 0 {
		return false
	}
	return h.MIDI(a) == h.MIDI(harp.Action{Breath: harp.Draw, Hole: a.Hole - 1})
}

func severals(h harp.Harp, p priors, add func(float64, ...harp.Action)) {
	holes := h.Layout.Holes()
	for _, b := range []harp.Breath{harp.Blow, harp.Draw} {
		at := func(hole, bend int) harp.Action { return harp.Action{Breath: b, Hole: hole, Bend: bend} }
		for i := 1; i <= holes; i++ {
			if i+1 <= holes {
				add(p.double, at(i, 0), at(i+1, 0))
				for bend := 1; bend <= h.MaxBend(b, i); bend++ {
					add(p.bentDouble, at(i, bend), at(i+1, 0))
				}
				for bend := 1; bend <= h.MaxBend(b, i+1); bend++ {
					add(p.bentDouble, at(i, 0), at(i+1, bend))
				}
			}
			for gap := 2; gap <= 4 && i+gap <= holes; gap++ {
				split := p.rareSplit
				if gap == 3 {
					split = p.split
				} else if h.MIDI(at(i+gap, 0))-h.MIDI(at(i, 0)) == 12 {
					split = p.wideOctave
				}
				add(split, at(i, 0), at(i+gap, 0))
			}
			for size := 3; size <= 4 && i+size-1 <= holes; size++ {
				var chord []harp.Action
				for k := range size {
					chord = append(chord, at(i+k, 0))
				}
				if size > 3 {
					add(p.bigChord, chord...)
				} else {
					add(p.chord, chord...)
				}
			}
		}
	}
}

// unplayables are the rows within the harp's range that no action gives.
func unplayables(h harp.Harp, have []state, p priors) []state {
	covered := map[int]bool{}
	for _, s := range have {
		if len(s.rows) == 1 {
			covered[s.rows[0]] = true
		}
	}
	var out []state
	for r := range pitch.Rows {
		if !covered[r] {
			out = append(out, state{rows: []int{r}, prior: p.unplayable, hole: nearestHole(h, r)})
		}
	}
	return out
}

func nearestHole(h harp.Harp, r int) float64 {
	best, hole := math.MaxInt, 0
	for _, a := range h.Actions(false) {
		if d := abs(row(h, a) - r); d < best {
			best, hole = d, a.Hole
		}
	}
	return float64(hole)
}

func abs(x int) int {
	if x < 0 {
		return -x
	}
	return x
}

// moves are the costs (log weights) of going from one state to another.
type moves struct {
	change   float64 // any new note
	start    float64 // a note after silence
	stop     float64 // silence after a note
	breath   float64 // more when the breath turns
	jump     float64 // more for each hole moved beyond the first
	farthest float64 // jumps cost no more than this
}

// cost of beginning state to while in state from.
func (m moves) cost(from, to *state) float64 {
	switch {
	case len(to.rows) == 0:
		return m.stop
	case len(from.rows) == 0:
		return m.start + to.prior
	}
	c := m.change + to.prior
	if from.breath != to.breath && from.breath*to.breath > 0 {
		c += m.breath
	}
	return c + max(m.farthest, m.jump*max(0, math.Abs(from.hole-to.hole)-1))
}
