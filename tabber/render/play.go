package render

import (
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
// and all is slowed down to speed (1: as written). What follows in one breath is
// slurred, and a bend slides out of the bend before it. Reeds are tuned between
// equal and just; the whole lies cents off A4 = 440 Hz. A sound that the harp
// cannot play is played as the pitches that were heard.
func Play(d tab.Document, from, speed, cents float64) []Note {
	tuning := Tuning{harp.Temperament{Name: "compromise", Just: 0.5}, cents}
	var notes []Note
	var gestures []Gesture
	for i, e := range d.Events {
		g := gesture(e, from, speed)
		if len(e.Actions) == 0 {
			notes = append(notes, asHeard(g, e, cents-d.TuningCents)...)
			continue
		}
		if i > 0 {
			join(gestures, &g, d.Events[i-1], e)
		}
		gestures = append(gestures, g)
	}
	played, _ := Perform(d.Harp, tuning, gestures)
	return append(played, notes...)
}

func gesture(e tab.Event, from, speed float64) Gesture {
	return Gesture{
		Start: (e.Start - from) / speed, End: (e.End - from) / speed,
		Actions: e.Actions, Attack: breathAttack, Release: fade,
	}
}

// join shapes the passage from the last gesture, which plays event a, to g, which
// plays b.
func join(gestures []Gesture, g *Gesture, a, b tab.Event) {
	if len(gestures) == 0 || len(a.Actions) == 0 || b.Start-a.End > joined {
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
		if len(a.Actions) == 1 && len(b.Actions) == 1 && a.Actions[0].Hole == b.Actions[0].Hole {
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
