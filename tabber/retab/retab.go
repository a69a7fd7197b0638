// Package retab writes the same music for another harp or position, or the same
// holes for a harp in another key.
//
// Music is a sequence of notes, as MIDI numbers. It is moved by as many semitones
// as the new key of the song asks for, and by whole octaves, phrase by phrase, to
// where most of it can be played. Of the holes that give a note the sequence is
// chosen that is easiest to play (Viterbi 1967). What is easy is common practice,
// no source, and left coarse on purpose: see costs.
package retab

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/tab"
)

// costs of playing, in units of little meaning but their order: a note that can't
// be had weighs more than anything, a double stop or chord of which only the top
// note can be had more than an octave away, that more than an overbend or
// two, and bends hardly count, since blues lives by them.
const (
	missing   = 200
	thinned   = 60
	newOctave = 30   // from one phrase to the next
	octave    = 20   // for each octave away from where the music lay
	overbend  = 10   // overblow or overdraw
	bentPair  = 1    // a bend within a double stop
	twin      = 0.5  // the blow note that is also the next lower hole's draw note
	bend      = 0.1  // for each semitone
	high      = 0.1  // above hole 6
	turn      = 0.05 // of the breath
	jump      = 0.02 // for each hole beyond the next
	asWritten = -2   // the very holes that the tab has

	outOfRange = 1e6 // beyond the notes that have MIDI numbers, of which the last is
	highest    = 127
)

// Flag is an event that can't be had on the harp. In the new document it stands
// as the notes themselves, with the nearest that the harp has as its first
// alternative.
type Flag struct {
	Event   int // index
	Notes   []int
	Nearest []harp.Action
}

// Music writes the music of a document for another harp, in songKey, a pitch
// class. In the key that it has it stays at its pitch where it can; otherwise it
// stays on the part of the harp where it lay. Each phrase is then moved by
// octaves if more of it can be played so. Overbends allows overblows and
// overdraws. Times, comments and doubt stay.
func Music(d tab.Document, h harp.Harp, songKey int, overbends bool) (tab.Document, []Flag) {
	preferred := shiftTo(d, h, songKey)
	groups := phrasing.Groups(d)
	best := make([][]choice, len(groups)) // for each octave
	for g, events := range groups {
		best[g] = make([]choice, 2*octaves+1)
		for k := range best[g] {
			best[g][k] = play(d, h, events, preferred+12*(k-octaves), overbends)
			best[g][k].cost += octave * math.Abs(float64(k-octaves))
		}
	}
	shift := make([]int, len(d.Events))
	actions := make([][]harp.Action, len(d.Events))
	for g, k := range easiest(best) {
		for i, e := range groups[g] {
			shift[e], actions[e] = preferred+12*(k-octaves), best[g][k].actions[i]
		}
	}
	out := document(d, h, songKey)
	if slices.ContainsFunc(shift, func(s int) bool { return s != 0 }) {
		out.TuningCents = 0 // what the recording is off says nothing of this any more
	}
	var flags []Flag
	for i := range out.Events {
		notes := d.Sounding(d.Events[i])
		for n := range notes {
			notes[n] += shift[i]
		}
		e := &out.Events[i]
		write(e, h, notes, actions[i], out.TuningCents)
		others := e.Alternatives
		e.Alternatives = nil
		if actions[i] == nil {
			near := nearest(h, notes, overbends)
			flags = append(flags, Flag{i, notes, near})
			e.Alternatives = nearestTo(out, notes, near)
		}
		for _, a := range others {
			alt, ok := alternative(d, h, a, shift[i], overbends)
			if ok && (alt.Actions == nil || !slices.Equal(alt.Actions, e.Actions)) {
				e.Alternatives = append(e.Alternatives, alt)
			}
		}
	}
	out.Notes = noted(d, fmt.Sprintf("The music of a tab for %s, %s", describe(d), moveText(shift)))
	return out, flags
}

// Holes writes the same holes for another harp, in the position that they were
// played in; the music sounds in another key. What the new harp's layout does not
// have is flagged.
func Holes(d tab.Document, h harp.Harp) (tab.Document, []Flag) {
	position := d.HarpPosition()
	out := document(d, h, harp.SongKey(h.Key(), position))
	up := h.Base - d.Harp.Base
	if up != 0 {
		out.TuningCents = 0
	}
	var flags []Flag
	for i := range out.Events {
		notes := d.Sounding(d.Events[i])
		for n := range notes {
			notes[n] += up
		}
		e := &out.Events[i]
		actions := e.Actions
		if !slices.ContainsFunc(actions, func(a harp.Action) bool { return !h.Plays(a) }) {
			if len(actions) > 0 {
				notes = nil
				for _, a := range actions {
					notes = append(notes, h.MIDI(a))
				}
			}
		} else {
			actions = nil
		}
		write(e, h, notes, actions, out.TuningCents)
		others := e.Alternatives
		e.Alternatives = nil
		if len(actions) == 0 {
			near := nearest(h, notes, false)
			flags = append(flags, Flag{i, notes, near})
			e.Alternatives = nearestTo(out, notes, near)
		}
		for _, a := range others {
			if !slices.ContainsFunc(a.Actions, func(x harp.Action) bool { return !h.Plays(x) }) {
				e.Alternatives = append(e.Alternatives, a)
			}
		}
	}
	out.Notes = noted(d, fmt.Sprintf("The holes of a tab for %s, %s", describe(d), byText(up)))
	return out, flags
}

// noted are a document's notes below what is said of the new one.
func noted(d tab.Document, said string) []string {
	if len(d.Notes) == 0 {
		return []string{said + "."}
	}
	return append([]string{said + ". What follows was said of that tab:"}, d.Notes...)
}

// document is a copy of a document for another harp and key.
func document(d tab.Document, h harp.Harp, songKey int) tab.Document {
	out := d
	out.Harp, out.SongKey = h, songKey
	out.Events, out.Notes = slices.Clone(d.Events), slices.Clone(d.Notes)
	return out
}

// write puts what is played, nil for what the harp does not have, into an event.
func write(e *tab.Event, h harp.Harp, notes []int, actions []harp.Action, tuning float64) {
	e.Actions, e.Texture, e.Pitches = actions, tab.Texture(actions), nil
	if len(actions) > 0 {
		notes = nil
		for _, a := range actions {
			notes = append(notes, h.MIDI(a))
		}
	}
	for _, n := range notes {
		e.Pitches = append(e.Pitches, float64(n)+tuning/100)
	}
}

// octaves that are tried, up and down.
const octaves = 3

// shiftTo is how many semitones the music moves to be in songKey, of the octaves
// the one that [Music] prefers.
func shiftTo(d tab.Document, h harp.Harp, songKey int) int {
	if songKey == d.SongKey {
		return 0
	}
	same := h.Base - d.Harp.Base // keeps the part of the harp
	up := harp.PitchClass(songKey - d.SongKey - same)
	if up > 6 {
		up -= 12
	}
	return same + up
}

// choice is a way to play a phrase: actions for each event, nil where there are
// none.
type choice struct {
	actions [][]harp.Action
	cost    float64
}

// easiest octave for each phrase.
func easiest(best [][]choice) []int {
	if len(best) == 0 {
		return nil
	}
	n := len(best[0])
	cost := make([]float64, n)
	from := make([][]int, len(best))
	for g := range best {
		next := make([]float64, n)
		from[g] = make([]int, n)
		for k := range n {
			least := math.Inf(1)
			for p := range n {
				c := cost[p]
				if p != k && g > 0 {
					c += newOctave
				}
				if c < least {
					least, from[g][k] = c, p
				}
			}
			next[k] = least + best[g][k].cost
		}
		cost = next
	}
	out := make([]int, len(best))
	k := 0
	for i := range cost {
		if cost[i] < cost[k] {
			k = i
		}
	}
	for g := len(best) - 1; g >= 0; g-- {
		out[g] = k
		k = from[g][k]
	}
	return out
}

// play finds the easiest way to play events moved by shift semitones.
func play(d tab.Document, h harp.Harp, events []int, shift int, overbends bool) choice {
	type option struct {
		actions []harp.Action
		cost    float64 // up to here
		from    int
	}
	var columns [][]option
	for _, i := range events {
		notes := d.Sounding(d.Events[i])
		for n := range notes {
			notes[n] += shift
		}
		sets := waysFor(h, notes, overbends)
		if len(sets) == 0 {
			sets = [][]harp.Action{nil}
		}
		var column []option
		for _, s := range sets {
			o := option{actions: s}
			own := effort(h, s)
			if s == nil && len(notes) > 1 && len(h.At(slices.Max(notes), overbends)) > 0 {
				own = thinned
			}
			if slices.ContainsFunc(notes, func(n int) bool { return n < 0 || n > highest }) {
				own = outOfRange
			}
			if s != nil && slices.Equal(s, d.Events[i].Actions) {
				own += asWritten
			}
			if len(columns) > 0 {
				before := columns[len(columns)-1]
				o.cost = math.Inf(1)
				for p, b := range before {
					if c := b.cost + move(b.actions, s); c < o.cost {
						o.cost, o.from = c, p
					}
				}
			}
			o.cost += own
			column = append(column, o)
		}
		columns = append(columns, column)
	}
	out := choice{actions: make([][]harp.Action, len(events))}
	at := 0
	for i := len(columns) - 1; i >= 0; i-- {
		if i == len(columns)-1 {
			for k, o := range columns[i] {
				if o.cost < columns[i][at].cost {
					at = k
				}
			}
			out.cost = columns[i][at].cost
		}
		out.actions[i] = columns[i][at].actions
		at = columns[i][at].from
	}
	return out
}

// effort of playing one event.
func effort(h harp.Harp, actions []harp.Action) float64 {
	if len(actions) == 0 {
		return missing
	}
	cost := 0.0
	for _, a := range actions {
		if a.Hole > 6 {
			cost += high
		}
		switch {
		case a.Bend < 0:
			cost += overbend
		case a.Bend > 0:
			cost += bend * float64(a.Bend)
			if len(actions) > 1 {
				cost += bentPair
			}
		case len(actions) == 1 && a.Breath == harp.Blow && a.Hole > 1 &&
			h.MIDI(a) == h.MIDI(harp.Action{Breath: harp.Draw, Hole: a.Hole - 1}):
			cost += twin
		}
	}
	return cost
}

// move is the effort of going from one event to the next.
func move(a, b []harp.Action) float64 {
	if len(a) == 0 || len(b) == 0 {
		return 0
	}
	cost := 0.0
	if a[0].Breath != b[0].Breath {
		cost = turn
	}
	return cost + jump*max(0, math.Abs(float64(a[0].Hole-b[0].Hole))-1)
}

// waysFor lists the sets of actions, ascending by hole, that give just these
// notes and that one mouth can play: one breath, one reed a hole, two neighbours,
// two holes with at most three blocked between them, or more in a row.
func waysFor(h harp.Harp, notes []int, overbends bool) [][]harp.Action {
	if len(notes) == 0 {
		return nil
	}
	sets := [][]harp.Action{nil}
	for _, n := range notes {
		var longer [][]harp.Action
		for _, s := range sets {
			for _, a := range h.At(n, overbends && len(notes) == 1) {
				if len(s) > 0 && a.Breath != s[0].Breath {
					continue
				}
				longer = append(longer, append(slices.Clone(s), a))
			}
		}
		sets = longer
	}
	var out [][]harp.Action
	for _, s := range sets {
		slices.SortFunc(s, func(a, b harp.Action) int { return a.Hole - b.Hole })
		if reachable(s) {
			out = append(out, s)
		}
	}
	return out
}

// reachable reports whether one mouth covers the holes, ascending.
func reachable(s []harp.Action) bool {
	for i := 1; i < len(s); i++ {
		gap := s[i].Hole - s[i-1].Hole
		bent := s[i].Bend+s[i-1].Bend > 0
		if gap < 1 || gap > 4 || len(s) > 2 && (gap > 1 || bent) || gap > 1 && bent {
			return false
		}
	}
	return true
}

// nearest is what the harp has nearest to notes that it does not have together:
// most of them with the highest among them, or else the note nearest to the
// highest, of two the lower.
func nearest(h harp.Harp, notes []int, overbends bool) []harp.Action {
	if len(notes) == 0 {
		return nil
	}
	sorted := slices.Clone(notes)
	slices.Sort(sorted)
	for drop := 1; drop < len(sorted); drop++ {
		if s := easiestOf(h, waysFor(h, sorted[drop:], overbends)); s != nil {
			return s
		}
	}
	top := sorted[len(sorted)-1]
	for d := 0; d < 128; d++ {
		for _, n := range []int{top - d, top + d} {
			if s := easiestOf(h, waysFor(h, []int{n}, overbends)); s != nil {
				return s
			}
		}
	}
	return nil
}

// nearestTo are the readings nearest to notes that a harp does not have together: what it
// has nearest to all, and to each of several.
func nearestTo(d tab.Document, notes []int, near []harp.Action) []tab.Alternative {
	together := tab.Alternative{Actions: near}
	switch {
	case len(notes) < 2:
		return []tab.Alternative{together}
	case len(near) < 2:
		return d.NearestOf(notes)
	}
	return append([]tab.Alternative{together}, d.NearestOf(notes)...)
}

// easiestOf is the set of least effort, nil of none.
func easiestOf(h harp.Harp, sets [][]harp.Action) []harp.Action {
	var best []harp.Action
	for _, s := range sets {
		if best == nil || effort(h, s) < effort(h, best) {
			best = s
		}
	}
	return best
}

// alternative moves another reading, if the harp has it.
func alternative(d tab.Document, h harp.Harp, a tab.Alternative, shift int,
	overbends bool) (tab.Alternative, bool) {
	if len(a.Actions) == 0 {
		return a, true
	}
	notes := d.Sounding(tab.Event{Actions: a.Actions})
	for i := range notes {
		notes[i] += shift
	}
	actions := easiestOf(h, waysFor(h, notes, overbends))
	return tab.Alternative{Actions: actions, Confidence: a.Confidence}, actions != nil
}

// describe the harp and key of a document: "an A harp in E".
func describe(d tab.Document) string {
	article := "a"
	if strings.Contains("AEF", d.Harp.Name[:1]) {
		article = "an"
	}
	return fmt.Sprintf("%s %s harp in %s", article, d.Harp.Name, d.SongName())
}

// moveText says how far the events were moved.
func moveText(shift []int) string {
	if len(shift) == 0 {
		return byText(0)
	}
	for _, s := range shift {
		if s != shift[0] {
			return fmt.Sprintf("moved phrase by phrase, %+d to %+d semitones",
				slices.Min(shift), slices.Max(shift))
		}
	}
	return byText(shift[0])
}

func byText(semitones int) string {
	switch {
	case semitones == 0:
		return "at the same pitch"
	case semitones == 1, semitones == -1:
		return map[int]string{1: "a semitone higher", -1: "a semitone lower"}[semitones]
	case semitones > 0:
		return fmt.Sprintf("%d semitones higher", semitones)
	}
	return fmt.Sprintf("%d semitones lower", -semitones)
}
