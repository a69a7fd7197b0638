package clips

import (
	"math/rand/v2"
	"slices"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/render"
	"blowdraw/tabber/tab"
)

// habits say how the random player plays. Lengths and times are in seconds.
type habits struct {
	scale  []int // semitones above the song key that are played
	key    int   // pitch class of the song
	lowest int   // holes that are played
	top    int

	notes  span                                   // notes in a phrase
	length func(rng *rand.Rand, i, n int) float64 // of note i of n in a phrase
	space  span                                   // between phrases
	leap   int                                    // widest step, in notes of the scale that lie on the harp
	slur   float64                                // chance of no new attack where the breath goes on
	attack span
	shaped float64 // chance of a scoop, of vibrato, of a swell on a long note

	double, split float64 // chance of a double stop, of a split
	chord         float64 // chance of three neighbours
	home          []int   // semitones above the song key on which phrases end; nil: anywhere
	blow          float64 // share of blow among double stops and splits
	second        span    // level of the weaker reed in dB
	lop           float64 // chance that the lower reed of two is the weaker
	octaves       bool    // splits are octaves only
}

// span is a range to draw from.
type span struct{ lo, hi float64 }

func (s span) draw(rng *rand.Rand) float64 { return s.lo + (s.hi-s.lo)*rng.Float64() }

// choice is what a phrase is made of before it is timed.
type choice struct {
	actions []harp.Action
	levels  []float64
	length  float64
}

// play improvises for so many seconds.
func play(rng *rand.Rand, h harp.Harp, hab habits, seconds float64) ([]render.Gesture, []tab.Phrase) {
	pool := vocabulary(h, hab)
	at := rng.IntN(len(pool))
	var gestures []render.Gesture
	var phrases []tab.Phrase
	t := 0.3 + 0.7*rng.Float64()
	for {
		n := max(int(hab.notes.draw(rng)+0.5), 1)
		var choices []choice
		total := 0.0
		for i := range n {
			at = step(rng, pool, at, hab)
			if i == n-1 && hab.home != nil {
				at = homeward(h, pool, at, hab)
			}
			c := voice(rng, h, hab, pool[at])
			c.length = hab.length(rng, i, n)
			if t+total+c.length > seconds-0.4 {
				break
			}
			total += c.length
			choices = append(choices, c)
		}
		if len(choices) == 0 {
			return gestures, phrases
		}
		phrase := shape(rng, hab, choices, t)
		gestures = append(gestures, phrase...)
		phrases = append(phrases, tab.Phrase{Start: phrase[0].Start, End: phrase[len(phrase)-1].End})
		t += total + hab.space.draw(rng)
	}
}

// vocabulary lists the single notes that are played, from low to high. Where
// two reeds give the same pitch, as draw 2 and blow 3 do, it is played on draw.
func vocabulary(h harp.Harp, hab habits) []harp.Action {
	byPitch := map[int]harp.Action{}
	for _, a := range h.Actions(false) {
		degree := ((h.MIDI(a)-hab.key)%12 + 12) % 12
		if a.Hole < hab.lowest || a.Hole > hab.top || !slices.Contains(hab.scale, degree) {
			continue
		}
		if old, ok := byPitch[h.MIDI(a)]; !ok || (a.Bend == 0 && a.Breath == harp.Draw) || old.Bend > a.Bend {
			byPitch[h.MIDI(a)] = a
		}
	}
	var pool []harp.Action
	for midi := 0; midi < 128; midi++ {
		if a, ok := byPitch[midi]; ok {
			pool = append(pool, a)
		}
	}
	return pool
}

// step moves to another note of the pool: near ones more often, and one time in
// eight the same again.
func step(rng *rand.Rand, pool []harp.Action, at int, hab habits) int {
	if rng.IntN(8) == 0 {
		return at
	}
	for {
		size := 1 + min(rng.IntN(hab.leap), rng.IntN(hab.leap))
		if rng.IntN(2) == 0 {
			size = -size
		}
		if to := at + size; to >= 0 && to < len(pool) {
			return to
		}
	}
}

// voice decides whether a note becomes a double stop or a split near it.
func voice(rng *rand.Rand, h harp.Harp, hab habits, a harp.Action) choice {
	u := rng.Float64()
	breath := harp.Draw
	if rng.Float64() < hab.blow {
		breath = harp.Blow
	}
	var pairs [][]harp.Action
	switch {
	case u < hab.double:
		pairs = neighbours(h, breath)
	case u < hab.double+hab.split:
		pairs = splits(h, breath, hab.octaves)
	case u < hab.double+hab.split+hab.chord:
		return strum(rng, h, a)
	default:
		return choice{actions: []harp.Action{a}}
	}
	pairs = slices.DeleteFunc(pairs, func(p []harp.Action) bool {
		return p[0].Hole < hab.lowest || p[1].Hole > hab.top
	})
	near := func(p []harp.Action) int { return min(abs(p[0].Hole-a.Hole), abs(p[1].Hole-a.Hole)) }
	slices.SortStableFunc(pairs, func(p, q []harp.Action) int { return near(p) - near(q) })
	c := choice{actions: pairs[rng.IntN(min(3, len(pairs)))], levels: []float64{0, 0}}
	weak := 1
	if rng.Float64() < hab.lop {
		weak = 0
	}
	c.levels[weak] = hab.second.draw(rng)
	return c
}

// homeward is the note of the pool nearest to at that is a home note.
func homeward(h harp.Harp, pool []harp.Action, at int, hab habits) int {
	best := at
	for i, a := range pool {
		degree := ((h.MIDI(a)-hab.key)%12 + 12) % 12
		if slices.Contains(hab.home, degree) && (best == at || abs(i-at) < abs(best-at)) {
			best = i
		}
	}
	return best
}

// strum is a chord of three neighbours about the hole of a, with its breath.
func strum(rng *rand.Rand, h harp.Harp, a harp.Action) choice {
	first := min(max(a.Hole-rng.IntN(3), 1), h.Layout.Holes()-2)
	c := choice{levels: []float64{0, 0, 0}}
	for k := range c.levels {
		c.actions = append(c.actions, harp.Action{Breath: a.Breath, Hole: first + k})
		c.levels[k] = -5 * rng.Float64()
	}
	return c
}

func abs(n int) int { return max(n, -n) }

// neighbours lists the double stops of a breath.
func neighbours(h harp.Harp, b harp.Breath) [][]harp.Action {
	var out [][]harp.Action
	for hole := 1; hole < h.Layout.Holes(); hole++ {
		out = append(out, []harp.Action{{Breath: b, Hole: hole}, {Breath: b, Hole: hole + 1}})
	}
	return out
}

// splits lists the tongue splits of a breath: octaves three or four holes apart,
// and, unless only octaves are wanted, minor sevenths three holes apart.
func splits(h harp.Harp, b harp.Breath, octaves bool) [][]harp.Action {
	var out [][]harp.Action
	for hole := 1; hole <= h.Layout.Holes(); hole++ {
		for _, other := range []int{hole + 3, hole + 4} {
			if other > h.Layout.Holes() {
				continue
			}
			p := []harp.Action{{Breath: b, Hole: hole}, {Breath: b, Hole: other}}
			apart := h.MIDI(p[1]) - h.MIDI(p[0])
			if apart == 12 || (apart == 10 && !octaves && other == hole+3) {
				out = append(out, p)
			}
		}
	}
	return out
}

// shape times a phrase from t on and gives every note its attack and its
// ornaments.
func shape(rng *rand.Rand, hab habits, choices []choice, t float64) []render.Gesture {
	var out []render.Gesture
	base := -4 * rng.Float64()
	slurring := false // from the note before
	for i, c := range choices {
		g := render.Gesture{
			Start: t, End: t + c.length, Actions: c.actions, Levels: c.levels,
			Level:   base + 2*rng.NormFloat64(),
			Attack:  min(hab.attack.draw(rng), 0.4*c.length),
			Release: min(0.02+0.04*rng.Float64(), 0.3*c.length),
		}
		if single(g.Actions) && g.Actions[0].Bend > 0 {
			g.Cents = 8 * rng.NormFloat64()
		}
		if len(g.Actions) > 1 && rng.IntN(3) == 0 {
			g.Late = make([]float64, len(g.Actions))
			g.Late[rng.IntN(len(g.Late))] = min(0.03*rng.Float64(), 0.2*c.length)
		}
		if slurring {
			g.Attack = min(0.02+0.012*rng.Float64(), 0.4*c.length)
			g.Late = nil
			before := out[len(out)-1].Actions
			if single(before) && single(g.Actions) && before[0].Hole == g.Actions[0].Hole {
				g.Glide = min(0.04+0.05*rng.Float64(), 0.6*c.length, 0.6*(t-out[len(out)-1].Start))
			}
		}
		ornament(rng, hab, &g, slurring)
		slurring = false
		if i+1 < len(choices) {
			gap, slur := join(rng, hab, c, choices[i+1])
			slurring = slur
			g.End -= min(gap, 0.2*c.length)
			if slur {
				g.Release = min(0.02+0.012*rng.Float64(), 0.3*c.length)
			}
		}
		out = append(out, g)
		t += c.length
	}
	settleGlides(out)
	return out
}

func single(a []harp.Action) bool { return len(a) == 1 }

// join decides how a goes over into b: the gap in seconds, or a slur.
func join(rng *rand.Rand, hab habits, a, b choice) (gap float64, slur bool) {
	switch {
	case slices.ContainsFunc(a.actions, func(x harp.Action) bool { return slices.Contains(b.actions, x) }):
		return 0.03 + 0.03*rng.Float64(), false // a reed that sounds again needs a stop
	case a.actions[0].Breath != b.actions[0].Breath:
		return 0.005 + 0.025*rng.Float64(), false
	case rng.Float64() < hab.slur:
		return 0, true
	}
	return 0.01 + 0.03*rng.Float64(), false
}

// ornament adds scoops, vibrato and swells to long notes. Pitch ornaments of
// two reeds are left out except vibrato.
func ornament(rng *rand.Rand, hab habits, g *render.Gesture, slurring bool) {
	length := g.End - g.Start
	if length < 0.3 || g.Glide > 0 {
		return
	}
	if single(g.Actions) && !slurring && rng.Float64() < hab.shaped/2 {
		g.Scoop, g.ScoopTime = 40+80*rng.Float64(), min(0.06+0.1*rng.Float64(), 0.3*length)
	}
	if length > 0.5 && rng.Float64() < hab.shaped {
		g.VibratoHz = 4 + 3*rng.Float64()
		g.VibratoCents = 8 + 27*rng.Float64()
		g.VibratoDB = 0.5 + 2*rng.Float64()
	}
	if length > 1.5 && rng.Float64() < hab.shaped {
		g.Swell = []render.Point{{At: 0, Value: 0},
			{At: length * (0.3 + 0.4*rng.Float64()), Value: -4 + 7*rng.Float64()},
			{At: length, Value: -6 * rng.Float64()}}
	}
}

// settleGlides takes vibrato and swells off notes that glide into the next: the
// two are one sound.
func settleGlides(g []render.Gesture) {
	for i := 1; i < len(g); i++ {
		if g[i].Glide > 0 {
			p := &g[i-1]
			p.VibratoHz, p.VibratoCents, p.VibratoDB, p.Swell = 0, 0, 0, nil
			g[i].Level = p.Level
		}
	}
}
