package clips

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"blowdraw/decode"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/render"
	"blowdraw/tabber/render/effect"
	"blowdraw/tabber/tab"
)

// playedTiers are what surrounds the clips of [Played].
var playedTiers = []string{"close", "room", "amp", "record", "band"}

// Played makes clips for telling how notes are played, six in each of the tiers
// close, room, amp, record and band (the harp 0 to 10 dB above it): scoops, falls,
// dips, vibrato of throat and hands, slaps, pulls, hands that open and close, accents,
// and, where the breath goes on, tongued or legato. What notes do by themselves is
// there too: reeds that speak flat, swells, soft attacks. Reeds are in turn those of
// the sound bank, of package render, and of the other sound bank. The same seed gives
// the same clips. It needs what [Pairs] needs.
func Played(ctx context.Context, seed int64) ([]Clip, error) {
	banks := map[string]*bank{}
	for source, path := range map[string]string{Sampled: BankPath, Fluid: FluidBankPath} {
		b, err := openBank(path)
		if err != nil {
			return nil, err
		}
		banks[source] = b
	}
	var out []Clip
	for k, tier := range playedTiers {
		for i := range PerCategory {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			c, err := playedClip(banks, tier, seed, i, []string{Sampled, Rendered, Fluid}[(i+k)%3])
			if err != nil {
				return nil, fmt.Errorf("sounding %s: %w", c.Name, err)
			}
			out = append(out, c)
		}
	}
	return out, nil
}

func playedClip(banks map[string]*bank, tier string, seed int64, i int, source string) (Clip, error) {
	rng := generator("played "+tier, seed, i)
	c := Clip{Name: fmt.Sprintf("%s-%d", tier, i+1), Category: tier, Source: source}
	var hab habits
	c.Harp, hab = usual(rng)
	temper := pick(rng, harp.Temperaments())
	c.Temperament, c.Cents = temper.Name, math.Round(10*(-30+60*rng.Float64()))/10
	p := newPlayed(rng, c.Harp, hab)
	p.play(Seconds)
	c.Gestures, c.Phrases = p.gestures, p.phrases
	tuning := render.Tuning{Temperament: temper, Cents: c.Cents}
	var notes []render.Note
	notes, c.Events = render.Perform(c.Harp, tuning, c.Gestures)
	for k := range c.Events {
		c.Events[k].Marks = p.marks[k]
	}
	aside, _ := render.Perform(c.Harp, tuning, p.slaps)
	x, err := c.sound(banks[source], append(notes, aside...), Seconds, rng)
	if err != nil {
		return c, err
	}
	if x, err = c.surroundings(rng, banks[Sampled], tier, hab.key, x); err != nil {
		return c, err
	}
	c.Clip = decode.Clip{Rate: Rate, Samples: finish(x, rng)}
	return c, nil
}

// surroundings puts a tier's room, machine or band about the dry harp.
func (c Clip) surroundings(
	rng *rand.Rand, players *bank, tier string, key int, x []float64,
) ([]float64, error) {
	switch tier {
	case "close":
		return effect.Reverb(x, Rate, effect.Room{T60: 0.2 + 0.3*rng.Float64(), Direct: 8 + 8*rng.Float64(),
			Seed: rng.Uint64()}), nil
	case "room":
		return effect.Reverb(x, Rate, effect.Room{T60: 0.8 + 1.2*rng.Float64(), Direct: 1 + 6*rng.Float64(),
			PreDelay: 0.02 * rng.Float64(), Seed: rng.Uint64()}), nil
	case "amp":
		return amplified(rng, x), nil
	case "record":
		return varied(rng, 4, x), nil
	}
	if rng.IntN(2) == 0 {
		x = amplified(rng, x)
	}
	low, chords := newCombo(rng, key).rhythm(rng, Seconds)
	db := 10 * rng.Float64()
	for k, m := range [][]message{low, chords} {
		y, err := players.track(m, len(x))
		if err != nil {
			return nil, err
		}
		mixIn(x, y, math.Pow(10, (-db-3-4*float64(k)*rng.Float64())/20)*effect.RMS(x)/max(effect.RMS(y), 1e-6))
	}
	return x, nil
}

// played plays with ornaments. Each gesture has its marks; slaps are beside them.
type played struct {
	rng      *rand.Rand
	harp     harp.Harp
	hab      habits
	pool     []harp.Action
	tongued  float64 // chance where the breath goes on
	gestures []render.Gesture
	marks    [][]tab.Mark
	slaps    []render.Gesture
	phrases  []tab.Phrase
}

func newPlayed(rng *rand.Rand, h harp.Harp, hab habits) *played {
	hab.double, hab.split, hab.chord = 0.08, 0.05, 0
	p := &played{rng: rng, harp: h, hab: hab, pool: vocabulary(h, hab)}
	p.tongued = []float64{0.1, 0.4, 0.85}[rng.IntN(3)]
	return p
}

// chance is true so often.
func (p *played) chance(share float64) bool { return p.rng.Float64() < share }

// between draws from a range.
func (p *played) between(lo, hi float64) float64 { return span{lo, hi}.draw(p.rng) }

// play improvises phrases for so many seconds.
func (p *played) play(seconds float64) {
	t, at := p.between(0.3, 0.8), p.rng.IntN(len(p.pool))
	for t < seconds-2 {
		begin := len(p.gestures)
		n := 3 + p.rng.IntN(7)
		for k := 0; k < n && t < seconds-2; k++ {
			at = step(p.rng, p.pool, at, p.hab)
			t = p.add(p.pool[at], t, k == 0, k == n-1)
		}
		p.phrases = append(p.phrases, tab.Phrase{Start: p.gestures[begin].Start,
			End: p.gestures[len(p.gestures)-1].End})
		t += p.between(0.45, 1.2)
	}
}

// add plays a note, or what is made of it, from t on, and returns where it ends.
func (p *played) add(a harp.Action, t float64, first, last bool) float64 {
	c := choice{actions: []harp.Action{a}}
	pull := a.Bend == 0 && p.chance(0.1)
	if !pull {
		c = voice(p.rng, p.harp, p.hab, a)
	}
	c.length = p.between(0.13, 0.6)
	if p.chance(0.3) || last && p.chance(0.6) {
		c.length = p.between(0.5, 1.5)
	}
	if pull {
		chord := strum(p.rng, p.harp, a)
		chord.length = p.between(0.08, 0.2)
		t = p.sound(chord, t, first, false)
		c.actions = chord.actions[2*p.rng.IntN(2):][:1]
	}
	return p.sound(c, t, first, pull)
}

// sound adds a gesture.
func (p *played) sound(c choice, t float64, first, pull bool) float64 {
	rng := p.rng
	g := render.Gesture{
		Start: t, End: t + c.length, Actions: c.actions, Levels: c.levels, Level: p.between(-4, 1),
		Attack: min(p.between(0.015, 0.09), 0.4*c.length), Release: min(p.between(0.02, 0.06), 0.3*c.length),
	}
	var marks []tab.Mark
	mark := func(m tab.Mark) { marks = append(marks, m) }
	slurred := pull
	switch {
	case pull:
		mark(tab.Mark{Name: tab.Pull})
		p.slur(&g)
	case first:
	default:
		switch how := p.goOn(&g); how {
		case tab.Legato:
			slurred = true
			mark(tab.Mark{Name: how})
		case tab.Tongued:
			mark(tab.Mark{Name: how})
		}
	}
	switch {
	case slurred || g.Glide > 0:
	case c.length > 0.12 && p.chance(0.12) && p.slap(&g):
		mark(tab.Mark{Name: tab.Slap})
	case single(g.Actions):
		p.begin(&g, mark)
	}
	if g.Glide == 0 {
		p.hold(&g, mark)
	}
	if rng.IntN(12) == 0 && g.Glide == 0 {
		db := p.between(6, 10)
		g.Level += db
		mark(tab.Mark{Name: tab.Accent, DB: db})
	}
	tab.SortMarks(marks)
	p.gestures, p.marks = append(p.gestures, g), append(p.marks, marks)
	return t + c.length
}

// slur lets a gesture go on from the last one without an attack.
func (p *played) slur(g *render.Gesture) {
	last := &p.gestures[len(p.gestures)-1]
	last.Release, g.Attack = p.between(0.015, 0.035), p.between(0.015, 0.035)
	if single(last.Actions) && single(g.Actions) && last.Actions[0].Hole == g.Actions[0].Hole {
		g.Glide = min(p.between(0.04, 0.09), 0.6*(g.End-g.Start), 0.6*(last.End-last.Start))
		last.VibratoHz, last.VibratoCents, last.VibratoDB, last.Swell, last.Hands = 0, 0, 0, nil, nil
		p.keep(len(p.gestures)-1, tab.Vibrato, tab.HandVibrato, tab.HandClose, tab.Wah)
		g.Level = last.Level
	}
}

// keep takes marks off a gesture that was changed.
func (p *played) keep(i int, less ...string) {
	p.marks[i] = slices.DeleteFunc(p.marks[i], func(m tab.Mark) bool { return slices.Contains(less, m.Name) })
}

// goOn joins a gesture to the last one: slurred, tongued or, with the other breath, a
// short gap. It tells which of the first two.
func (p *played) goOn(g *render.Gesture) string {
	last := &p.gestures[len(p.gestures)-1]
	shared := slices.ContainsFunc(last.Actions,
		func(a harp.Action) bool { return slices.Contains(g.Actions, a) })
	fell := slices.ContainsFunc(p.marks[len(p.marks)-1], func(m tab.Mark) bool { return m.Name == tab.Fall })
	short := min(p.between(0.015, 0.06), 0.3*(last.End-last.Start))
	switch {
	case last.Actions[0].Breath != g.Actions[0].Breath:
		last.End -= min(p.between(0.005, 0.03), short)
		return ""
	case !shared && !fell && !p.chance(p.tongued):
		p.slur(g)
		return tab.Legato
	}
	last.End -= short
	last.Release = p.between(0.008, 0.025)
	g.Attack = p.between(0.01, 0.04)
	if p.chance(0.7) {
		g.Puff = p.between(-34, -14)
	}
	return tab.Tongued
}

// slap puts a burst of the holes to the left before a gesture, or at its start, if there
// are any. Of single notes the burst may come first and the note after it, as the tongue
// comes down.
func (p *played) slap(g *render.Gesture) bool {
	a := g.Actions[0]
	s := render.Gesture{Start: g.Start, End: g.Start + p.between(0.015, 0.05),
		Level:  g.Level + p.between(-16, 2),
		Attack: p.between(0.004, 0.008), Release: p.between(0.01, 0.02)}
	for hole := max(1, a.Hole-1-p.rng.IntN(3)); hole < a.Hole; hole++ {
		s.Actions = append(s.Actions, harp.Action{Breath: a.Breath, Hole: hole})
		s.Levels = append(s.Levels, -3*p.rng.Float64())
	}
	if len(s.Actions) == 0 {
		return false
	}
	if p.chance(0.6) {
		g.Late = make([]float64, len(g.Actions))
		for i := range g.Late {
			g.Late[i] = s.End - s.Start
		}
	}
	p.slaps = append(p.slaps, s)
	return true
}

// begin shapes the start of a single note.
func (p *played) begin(g *render.Gesture, mark func(tab.Mark)) {
	length := g.End - g.Start
	switch u := p.rng.Float64(); {
	case length < 0.2:
	case u < 0.13:
		g.Scoop, g.ScoopTime = p.between(40, 180), min(p.between(0.06, 0.2), 0.4*length)
		mark(tab.Mark{Name: tab.Scoop, Cents: g.Scoop, Seconds: g.ScoopTime})
		return
	case u < 0.23 && length > 0.35:
		open := p.between(0.1, min(0.35, 0.6*length))
		held := p.between(0, 0.1)
		g.Hands = []render.Point{{At: held, Value: p.between(0.6, 1)}, {At: held + open, Value: p.between(0, 0.1)}}
		mark(tab.Mark{Name: tab.Wah, Seconds: held + open})
		return
	}
	if p.chance(0.3) { // the reed speaks out of tune
		g.Contour = []render.Point{{At: 0, Value: p.between(-30, 10)}, {At: p.between(0.01, 0.05), Value: 0}}
	}
}

// hold shapes the middle and the end of a gesture.
func (p *played) hold(g *render.Gesture, mark func(tab.Mark)) {
	length := g.End - g.Start
	u := p.rng.Float64()
	switch {
	case length > 0.5 && u < 0.3:
		g.VibratoHz, g.VibratoCents, g.VibratoDB = p.between(4, 7), p.between(9, 35), p.between(0.5, 2.5)
		mark(tab.Mark{Name: tab.Vibrato, Hz: g.VibratoHz, Cents: g.VibratoCents})
	case length > 0.6 && u < 0.38:
		g.VibratoHz, g.VibratoDB = p.between(3.5, 7), p.between(1.5, 4)
		mark(tab.Mark{Name: tab.HandVibrato, Hz: g.VibratoHz})
	case length > 0.45 && u < 0.46 && single(g.Actions) && g.Contour == nil:
		half := p.between(0.04, 0.09)
		mid := p.between(g.ScoopTime+0.15, length-0.2)
		cents := p.between(40, 150)
		g.Contour = []render.Point{{At: mid - half, Value: 0}, {At: mid, Value: -cents}, {At: mid + half, Value: 0}}
		mark(tab.Mark{Name: tab.Dip, Cents: cents, Seconds: 2 * half})
	case length > 1 && u > 0.8:
		g.Swell = []render.Point{{At: 0.05, Value: 0}, {At: length * p.between(0.3, 0.7), Value: p.between(-4, 3)},
			{At: length, Value: p.between(-12, 0)}}
	}
	switch v := p.rng.Float64(); {
	case length < 0.25 || !single(g.Actions):
	case v < 0.1:
		cents, seconds := p.between(60, 200), min(p.between(0.06, 0.2), 0.4*length)
		g.Contour = append(g.Contour, render.Point{At: length - seconds, Value: 0},
			render.Point{At: length, Value: -cents})
		g.Release = p.between(0.03, 0.08)
		mark(tab.Mark{Name: tab.Fall, Cents: cents, Seconds: seconds})
	case v < 0.15 && length > 0.4:
		close := p.between(0.1, min(0.3, 0.5*length))
		if len(g.Hands) == 0 {
			g.Hands = []render.Point{{At: 0, Value: 0}}
		}
		if g.Hands[len(g.Hands)-1].At > length-close {
			return
		}
		g.Hands = append(g.Hands, render.Point{At: length - close, Value: 0},
			render.Point{At: length, Value: p.between(0.6, 1)})
		mark(tab.Mark{Name: tab.HandClose, Seconds: close})
	}
}
