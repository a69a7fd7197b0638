package clips

import (
	"fmt"
	"math/rand/v2"
	"slices"

	"blowdraw/decode"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/render"
	"blowdraw/tabber/tab"
)

// Solo is a clip in which phrases come back, or of nothing but random phrases.
type Solo struct {
	Clip
	Seconds float64
	SongKey int // pitch class
	Returns []Return
	Family  []int // of each phrase: the number of the phrase that it goes back to, or its own
	notes   []render.Note
	rng     *rand.Rand
	treat   func(rng *rand.Rand, i int, x []float64) []float64
	number  int
}

// Return is a phrase, or a part of one, that is played again.
type Return struct {
	Kind      string // how it is changed, one of ReturnKinds
	Of, Again int    // numbers of the two phrases
	Notes     int    // how many come back
}

// ReturnKinds are the ways in which a phrase comes back. An ornament is a note put in, a
// note left out, or a second reed added or taken off.
func ReturnKinds() []string {
	return []string{"unchanged", "ornament", "rhythm", "wrong note", "octave", "part"}
}

// Solos makes solos of that many seconds whose phrases come back one time in three if
// returning is true, and by chance only if it is false. They have no sound yet. The same
// seed gives the same solos.
func Solos(seed int64, n int, seconds float64, returning bool) []Solo {
	all := slices.DeleteFunc(categories(), func(c category) bool { return c.name == "held" })
	var out []Solo
	for i := range n {
		c := all[i%len(all)]
		rng := generator("solo "+c.name, seed, i)
		s := Solo{Seconds: seconds, rng: rng, treat: c.treat, number: i % PerCategory}
		s.Clip = Clip{Name: fmt.Sprintf("solo-%d", i+1), Category: c.name, Source: Rendered}
		var hab habits
		s.Harp, hab = c.prepare(rng, i%PerCategory)
		s.SongKey = hab.key
		temper := harp.Temperaments()[rng.IntN(len(harp.Temperaments()))]
		s.Temperament = temper.Name
		s.Cents = float64(rng.IntN(81) - 40)
		chance := 0.0
		if returning {
			chance = 1. / 3
		}
		s.improvise(hab, chance)
		s.notes, s.Events = render.Perform(s.Harp, render.Tuning{Temperament: temper, Cents: s.Cents}, s.Gestures)
		out = append(out, s)
	}
	return out
}

// Document is the tab of what was played.
func (s Solo) Document() tab.Document {
	return tab.Document{Harp: s.Harp, SongKey: s.SongKey, To: s.Seconds, Events: s.Events, Phrases: s.Phrases}
}

// Sound renders a solo with the additive reeds, in its category's surroundings.
func (s Solo) Sound() (decode.Clip, error) {
	x, err := s.sound(nil, s.notes, s.Seconds, s.rng)
	if err != nil {
		return decode.Clip{}, fmt.Errorf("sounding %s: %w", s.Name, err)
	}
	x = s.treat(s.rng, s.number, x)
	return decode.Clip{Rate: Rate, Samples: finish(x, s.rng)}, nil
}

// improvise plays phrases until the time is up, each with that chance one that was
// played before.
func (s *Solo) improvise(hab habits, chance float64) {
	rng := s.rng
	pool := vocabulary(s.Harp, hab)
	at := rng.IntN(len(pool))
	var played [][]choice
	t := 0.3 + 0.7*rng.Float64()
	for {
		var choices []choice
		choices, at = invent(rng, s.Harp, hab, pool, at)
		r := Return{Of: len(played), Again: len(played)}
		if long := longEnough(played); len(long) > 0 && rng.Float64() < chance {
			of, kind := long[rng.IntN(len(long))], ReturnKinds()[rng.IntN(len(ReturnKinds()))]
			if again, notes, ok := vary(rng, s.Harp, hab, pool, played[of], kind); ok {
				if kind == "part" {
					again = append(again, choices[:min(3, len(choices))]...)
				}
				choices, r.Kind, r.Of, r.Notes = again, kind, of, notes
			}
		}
		total := 0.0
		for _, c := range choices {
			total += c.length
		}
		if t+total > s.Seconds-0.4 {
			return
		}
		phrase := shape(rng, hab, choices, t)
		if r.Notes > 0 {
			s.Returns = append(s.Returns, r)
			s.Family = append(s.Family, s.Family[r.Of])
		} else {
			s.Family = append(s.Family, r.Of)
		}
		played = append(played, choices)
		s.Gestures = append(s.Gestures, phrase...)
		s.Phrases = append(s.Phrases, tab.Phrase{Start: phrase[0].Start, End: phrase[len(phrase)-1].End})
		t += total + hab.space.draw(rng)
	}
}

// invent makes up a phrase from note at of the pool on.
func invent(rng *rand.Rand, h harp.Harp, hab habits, pool []harp.Action, at int) ([]choice, int) {
	n := max(int(hab.notes.draw(rng)+0.5), 1)
	var out []choice
	for i := range n {
		at = step(rng, pool, at, hab)
		c := voice(rng, h, hab, pool[at])
		c.length = hab.length(rng, i, n)
		out = append(out, c)
	}
	return out, at
}

// leastReturning is how many notes a phrase must have to be worth playing again.
const leastReturning = 5

func longEnough(played [][]choice) (out []int) {
	for i, p := range played {
		if len(p) >= leastReturning {
			out = append(out, i)
		}
	}
	return out
}

// vary plays a phrase again, changed in one way, and says how many of its notes come
// back; not ok if the harp does not have it.
func vary(rng *rand.Rand, h harp.Harp, hab habits, pool []harp.Action, of []choice,
	kind string) (again []choice, notes int, ok bool) {
	again, notes = slices.Clone(of), len(of)
	for i := range again { // no one plays a rhythm the same to the millisecond
		again[i].length *= 1 + 0.06*rng.NormFloat64()
	}
	inner := 1 + rng.IntN(len(of)-2)
	other := voice(rng, h, hab, pool[rng.IntN(len(pool))])
	switch kind {
	case "ornament":
		switch rng.IntN(3) {
		case 0:
			other.length = 0.08
			again[inner].length = max(0.1, again[inner].length-0.08)
			again = slices.Insert(again, inner, other)
		case 1:
			again[inner-1].length += again[inner].length
			again = slices.Delete(again, inner, inner+1)
			notes--
		default:
			again[inner] = withSecond(h, again[inner])
			notes--
		}
	case "rhythm":
		for i := range again {
			again[i].length = hab.length(rng, i, len(again))
		}
	case "wrong note":
		other.length = again[inner].length
		if slices.Equal(other.actions, again[inner].actions) {
			return nil, 0, false
		}
		again[inner] = other
		notes--
	case "octave":
		up := 12 - 24*rng.IntN(2)
		for i, c := range again {
			if again[i], ok = otherOctave(h, pool, c, up); !ok {
				return nil, 0, false
			}
		}
	case "part":
		notes = leastReturning + rng.IntN(len(of)-leastReturning+1)
		from := rng.IntN(len(of) - notes + 1)
		again = again[from : from+notes]
	}
	return again, notes, true
}

// withSecond adds the neighbour below to a single note, or takes all but one reed off.
func withSecond(h harp.Harp, c choice) choice {
	if len(c.actions) > 1 {
		c.actions, c.levels = c.actions[:1], nil
		return c
	}
	a := c.actions[0]
	if a.Hole == 1 || a.Bend > 0 {
		return c
	}
	c.actions, c.levels = []harp.Action{{Breath: a.Breath, Hole: a.Hole - 1}, a}, []float64{-5, 0}
	return c
}

// otherOctave is a single note so many semitones higher.
func otherOctave(h harp.Harp, pool []harp.Action, c choice, semitones int) (choice, bool) {
	if len(c.actions) > 1 {
		return c, false
	}
	for _, a := range pool {
		if h.MIDI(a) == h.MIDI(c.actions[0])+semitones {
			c.actions = []harp.Action{a}
			return c, true
		}
	}
	return c, false
}
