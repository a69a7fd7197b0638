package render

import (
	"cmp"
	"slices"

	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

const (
	breathAttack = 0.035 // s, of a note begun with the breath
	slurAttack   = 0.025 // s, of one begun without
	fade         = 0.040 // s
	joined       = 0.030 // s, the widest gap over which a player goes on
	tongued      = 0.050 // s, kept free before the same reeds begin again
	slide        = 0.050 // s, from bend to bend
)

// Play turns a tab into notes for [Render]: the event at from seconds sounds at 0,
// and all is slowed down to speed (1: as written). Marks are played; what follows in
// one breath is slurred, and a bend slides out of the bend before it. Reeds are tuned
// between equal and just; the whole lies cents off A4 = 440 Hz. A sound that the harp
// cannot play is played as the pitches that were heard.
func Play(d tab.Document, from, speed, cents float64) []Note {
	tuning := Tuning{harp.Temperament{Name: "compromise", Just: 0.5}, cents}
	var notes, foreign []Note
	var gestures, slaps []Gesture
	for i, e := range d.Events {
		g := Shape(e).at(from, speed)
		if len(e.Actions) == 0 {
			foreign = append(foreign, asHeard(g, e, cents-d.TuningCents)...)
			continue
		}
		if m, ok := e.Mark(tab.Shake); ok && len(e.Actions) == 2 {
			gestures = append(gestures, shaken(g, cmp.Or(m.Hz, shakeHz)*speed)...)
			continue
		}
		if i > 0 {
			join(gestures, &g, d.Events[i-1], e)
		}
		if _, ok := e.Mark(tab.Slap); ok {
			if s, ok := slap(d.Harp, g); ok {
				slaps = append(slaps, s)
			}
		}
		gestures = append(gestures, g)
	}
	for _, list := range [][]Gesture{gestures, slaps} {
		played, _ := Perform(d.Harp, tuning, list)
		notes = append(notes, played...)
	}
	return append(notes, foreign...)
}

// at moves a gesture to the clock that begins at from seconds and runs at speed.
func (g Gesture) at(from, speed float64) Gesture {
	g.Start, g.End = (g.Start-from)/speed, (g.End-from)/speed
	g.ScoopTime /= speed
	g.VibratoHz *= speed
	contour := g.Contour
	g.Contour = nil
	for _, p := range contour {
		g.Contour = append(g.Contour, Point{p.At / speed, p.Value})
	}
	return g
}

// join shapes the passage from the last gesture, which plays event a, to g, which
// plays b.
func join(gestures []Gesture, g *Gesture, a, b tab.Event) {
	if _, shake := a.Mark(tab.Shake); shake || len(gestures) == 0 || len(a.Actions) == 0 || b.Start-a.End > joined {
		return
	}
	last := &gestures[len(gestures)-1]
	switch {
	case slices.Equal(a.Actions, b.Actions):
		last.End = max(last.Start+tongued, min(last.End, g.Start-tongued))
	case a.Actions[0].Breath != b.Actions[0].Breath:
		last.End = max(last.Start+tongued, min(last.End, g.Start-fade/2))
	default:
		last.Release, g.Attack = slurAttack, slurAttack
		sameReed := len(a.Actions) == 1 && len(b.Actions) == 1 && a.Actions[0].Hole == b.Actions[0].Hole
		if straight := g.Scoop == 0 && g.VibratoHz == 0 && len(g.Contour) == 0 && g.Cents == 0; sameReed && straight {
			g.Glide = min(slide, g.End-g.Start, last.End-last.Start)
		}
	}
}

// asHeard are the pitches of an event that the harp cannot play, moved by cents.
func asHeard(g Gesture, e tab.Event, cents float64) []Note {
	var out []Note
	for i, p := range e.Pitches {
		n := g.note(i)
		n.MIDI, n.Reed = p+cents/100, 100+int(p)
		if hz := pitch.MIDIToHz(n.MIDI); hz > 20 && hz < 8000 {
			out = append(out, n)
		}
	}
	return out
}
