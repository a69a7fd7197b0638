// Package scene holds the score of the demo recording and plays it.
//
// The music is invented for this project: three short blues phrases in second
// position on an A harp (song key E), slow shuffle, one harp in a small room.
package scene

import (
	"blowdraw/decode"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/render"
	"blowdraw/tabber/render/effect"
	"blowdraw/tabber/tab"
)

const (
	// Rate of the recording in samples per second.
	Rate = 22050
	// Cents by which the recording lies above A4 = 440 Hz.
	Cents = 8.0
	// Beats a minute.
	Beats = 84.0

	lead    = 0.6            // s of silence before the first phrase
	third   = 60 / Beats / 3 // s, a third of a beat
	seconds = 16.5           // length of the recording
	seed    = 20             // of reeds, breath and room
)

// Harp is the harp that plays.
func Harp() harp.Harp {
	for _, l := range harp.Layouts() {
		if l.Name == "richter" {
			return harp.Harp{Name: "A", Layout: l, Base: 57}
		}
	}
	panic("the common layout is missing")
}

// note is one line of the score; at and length count thirds of a beat.
type note struct {
	at, length float64
	actions    []harp.Action
	shape      func(*render.Gesture) // nil: plain
}

func blow(hole int) []harp.Action { return []harp.Action{{Breath: harp.Blow, Hole: hole}} }

func draw(holes ...int) []harp.Action {
	var a []harp.Action
	for _, h := range holes {
		a = append(a, harp.Action{Breath: harp.Draw, Hole: h})
	}
	return a
}

func bend(hole, semitones int) []harp.Action {
	return []harp.Action{{Breath: harp.Draw, Hole: hole, Bend: semitones}}
}

// Shapes that the score asks for.

func scoop(g *render.Gesture) { g.Scoop, g.ScoopTime = 90, 0.12 }

func vibrato(g *render.Gesture) { g.VibratoHz, g.VibratoCents, g.VibratoDB = 5.2, 22, 1.5 }

func scoopVibrato(g *render.Gesture) { scoop(g); vibrato(g) }

func second(db float64) func(*render.Gesture) {
	return func(g *render.Gesture) { g.Levels = []float64{0, db} }
}

func octave(g *render.Gesture) {
	g.Levels = []float64{-2, 0}
	g.Late = []float64{0.012, 0}
	g.VibratoHz, g.VibratoCents, g.VibratoDB = 5, 10, 2
}

// phrases is the score.
var phrases = [][]note{
	{
		{0, 2, draw(2), scoop},
		{2, 1, bend(3, 1), nil},
		{3, 2, draw(4), nil},
		{5, 1, bend(4, 1), nil},
		{6, 2, draw(4), nil},
		{8, 1, bend(3, 1), nil},
		{9, 6, draw(2), vibrato},
	},
	{
		{18, 1, blow(4), nil},
		{19, 3, draw(4, 5), second(-4)},
		{22, 2, draw(4), nil},
		{24, 1, blow(4), nil},
		{25, 2, draw(3), nil},
		{27, 1, bend(3, 2), nil},
		{28, 2, draw(2), nil},
		{30, 1, blow(2), nil},
		{31, 6, draw(1, 4), octave},
	},
	{
		{42, 2, blow(6), nil},
		{44, 1, draw(5), nil},
		{45, 2, draw(4), scoop},
		{47, 1, bend(4, 1), nil},
		{48, 1, blow(4), nil},
		{49, 1, bend(3, 1), nil},
		{50, 1, draw(2), nil},
		{51, 2, bend(2, 2), nil},
		{53, 1, draw(1), nil},
		{54, 7, draw(2), scoopVibrato},
	},
}

// gestures turns the score into timed playing. A note followed at once by one
// of the same breath is slurred into it, unless the same reeds sound again;
// any other note stops a little early.
func gestures() ([]render.Gesture, []tab.Phrase) {
	var all []render.Gesture
	var spans []tab.Phrase
	for _, phrase := range phrases {
		slurred := false
		first := len(all)
		for i, n := range phrase {
			g := render.Gesture{
				Start: lead + n.at*third, End: lead + (n.at+n.length)*third,
				Actions: n.actions, Attack: 0.045, Release: 0.04,
				Level: -2 + float64(n.length)/4,
			}
			if slurred {
				g.Attack, g.Release = 0.025, 0.025
			}
			slurred = i+1 < len(phrase) && slurs(n, phrase[i+1])
			if !slurred {
				g.End -= 0.03
			}
			if n.shape != nil {
				n.shape(&g)
			}
			all = append(all, g)
		}
		spans = append(spans, tab.Phrase{Start: all[first].Start, End: all[len(all)-1].End})
	}
	return all, spans
}

// slurs reports whether b follows a without a new attack.
func slurs(a, b note) bool {
	x, y := a.actions[0], b.actions[0]
	return a.at+a.length == b.at && x.Breath == y.Breath && x != y && len(a.actions) == 1 &&
		len(b.actions) == 1
}

// Truth is what was played: events and phrases.
func Truth() ([]tab.Event, []tab.Phrase) {
	g, phrases := gestures()
	_, events := render.Perform(Harp(), tuning(), g)
	return events, phrases
}

func tuning() render.Tuning {
	return render.Tuning{Temperament: harp.Temperament{Name: "compromise", Just: 0.5}, Cents: Cents}
}

// Clip plays the score.
func Clip() decode.Clip {
	g, _ := gestures()
	notes, _ := render.Perform(Harp(), tuning(), g)
	x := render.Render(notes, render.Set{Seed: seed}, Rate)
	full := make([]float64, int(seconds*Rate))
	copy(full, x)
	full = effect.Reverb(full, Rate, effect.Room{T60: 0.9, Direct: 6, PreDelay: 0.012, Seed: seed})
	for i := range full {
		full[i] *= 2
	}
	render.Limit(full, Rate, 0.89)
	return decode.Clip{Rate: Rate, Samples: full}
}
