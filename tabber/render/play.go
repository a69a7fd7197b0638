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
	tongued      = 0.050 // s, kept free before the same reeds begin again
	slide        = 0.050 // s, from bend to bend

	tongueStop    = 0.035 // s that the tongue stops the breath,
	tongueRelease = 0.015 // s, of the note that it ends
	tongueAttack  = 0.020 // s, of the one that it begins
	tonguePuff    = -24   // dB of the air then
)

// OneBreath is the longest silence in seconds over which a player goes on from one event
// to the next in one breath.
const OneBreath = 0.030

// Play turns a tab into notes for [Render]: the event at from seconds sounds at 0,
// and all is slowed down to speed (1: as written). Marks are played; what follows in
// one breath is slurred, and a bend slides out of the bend before it. Reeds are tuned
// between equal and just; the whole lies cents off A4 = 440 Hz. A sound that the harp
// cannot play is played as the pitches that were heard.
func Play(d tab.Document, from, speed, cents float64) []Note {
	tuning := Tuning{harp.Temperament{Name: "compromise", Just: 0.5}, cents}
	var notes, foreign []Note
	var gestures, slaps []Gesture
	usual := usualJoin(d)
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
			goOn(gestures, &g, d.Events[i-1], e, usual)
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
	g.Contour, g.Hands = slowed(g.Contour, speed), slowed(g.Hands, speed)
	return g
}

// slowed are the points of a curve at a speed.
func slowed(curve []Point, speed float64) []Point {
	var out []Point
	for _, p := range curve {
		out = append(out, Point{p.At / speed, p.Value})
	}
	return out
}

// usualJoin is how the notes of a tab are begun that say nothing of it where the breath
// goes on: as its note says or, without one, legato unless it marks what is legato, and
// nothing as tongued.
func usualJoin(d tab.Document) string {
	if how := d.UsualJoin(); how != "" {
		return how
	}
	usual := tab.Legato
	for _, e := range d.Events {
		if _, ok := e.Mark(tab.Tongued); ok {
			return tab.Legato
		}
		if _, ok := e.Mark(tab.Legato); ok {
			usual = tab.Tongued
		}
	}
	return usual
}

// begun is how an event is begun where the breath goes on.
func begun(e tab.Event, usual string) string {
	for _, name := range []string{tab.Tongued, tab.Legato} {
		if _, ok := e.Mark(name); ok {
			return name
		}
	}
	return cmp.Or(e.Join.How(), usual)
}

// goOn shapes the passage from the last gesture, which plays event a, to g, which
// plays b; usual is how notes are begun that say nothing of it.
func goOn(gestures []Gesture, g *Gesture, a, b tab.Event, usual string) {
	if _, shake := a.Mark(tab.Shake); shake || len(gestures) == 0 || len(a.Actions) == 0 ||
		b.Start-a.End > OneBreath {
		return
	}
	last := &gestures[len(gestures)-1]
	switch {
	case slices.Equal(a.Actions, b.Actions):
		last.End = max(last.Start+tongued, min(last.End, g.Start-tongued))
	case a.Actions[0].Breath != b.Actions[0].Breath:
		last.End = max(last.Start+tongued, min(last.End, g.Start-fade/2))
	case begun(b, usual) == tab.Tongued:
		last.End = max(last.Start+tongued, min(last.End, g.Start-tongueStop))
		last.Release, g.Attack, g.Puff = tongueRelease, tongueAttack, tonguePuff
	default:
		last.Release, g.Attack = slurAttack, slurAttack
		sameReed := len(a.Actions) == 1 && len(b.Actions) == 1 && a.Actions[0].Hole == b.Actions[0].Hole
		straight := g.Scoop == 0 && g.VibratoHz == 0 && len(g.Contour) == 0 && len(g.Hands) == 0 &&
			g.Cents == 0
		if sameReed && straight {
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
