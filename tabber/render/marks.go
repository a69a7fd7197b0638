package render

import (
	"cmp"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// What a mark sounds like where the tab gives no number for it (common practice, no
// source).
const (
	scoopCents, scoopSeconds = 90, 0.12
	fallCents, fallSeconds   = 150, 0.15
	dipCents, dipSeconds     = 80, 0.20
	vibratoHz                = 5.2
	vibratoCents, vibratoDB  = 22, 1.5
	handVibratoDB            = 3
	shakeHz                  = 6 // there and back
	accentDB                 = 4
	slapSeconds, slapDB      = 0.045, -3
	handSeconds, closed      = 0.22, 0.9 // hands that open or close, how far they are closed
	handFull                 = 22.0      // dB that closed hands make, as contour.Brighten counts them
	loudest, softest         = 6, -12    // dB that a measured loudness counts for
)

// Shape is how an event is played, by its marks: a gesture without times and
// actions other than the event's own. What one gesture cannot say, a slap or a
// shake, is left out.
func Shape(e tab.Event) Gesture {
	g := Gesture{
		Start: e.Start, End: e.End, Actions: e.Actions, Attack: breathAttack, Release: fade,
		Level: min(max(e.Loudness, softest), loudest),
	}
	length := e.End - e.Start
	for _, m := range e.Marks {
		switch m.Name {
		case tab.Scoop:
			g.Scoop = cmp.Or(m.Cents, scoopCents)
			g.ScoopTime = min(cmp.Or(m.Seconds, scoopSeconds), length/2)
		case tab.Fall:
			seconds := min(cmp.Or(m.Seconds, fallSeconds), length/2)
			g.Contour = append(g.Contour, Point{length - seconds, 0},
				Point{length, -cmp.Or(m.Cents, fallCents)})
		case tab.Dip:
			half := min(cmp.Or(m.Seconds, dipSeconds), length/2) / 2
			g.Contour = append(g.Contour, Point{length/2 - half, 0},
				Point{length / 2, -cmp.Or(m.Cents, dipCents)}, Point{length/2 + half, 0})
		case tab.Vibrato:
			g.VibratoHz, g.VibratoCents, g.VibratoDB = cmp.Or(m.Hz, vibratoHz), cmp.Or(m.Cents, vibratoCents),
				cmp.Or(m.DB, vibratoDB)
		case tab.HandVibrato:
			g.VibratoHz, g.VibratoDB = cmp.Or(m.Hz, vibratoHz), cmp.Or(m.DB, handVibratoDB)
		case tab.Wah:
			seconds := min(cmp.Or(m.Seconds, handSeconds), length)
			g.Hands = append([]Point{{0.3 * seconds, hands(m)}, {seconds, 0}}, g.Hands...)
		case tab.HandClose:
			seconds := min(cmp.Or(m.Seconds, handSeconds), length/2)
			g.Hands = append(g.Hands, Point{length - seconds, 0}, Point{length, hands(m)})
		case tab.Accent:
			g.Level += cmp.Or(m.DB, accentDB)
		case tab.OffPitch:
			g.Cents = m.Cents
		}
	}
	return g
}

// hands is how far the hands close for a mark.
func hands(m tab.Mark) float64 {
	if m.DB == 0 {
		return closed
	}
	return min(max(m.DB/handFull, 0.3), 1)
}

// CentsAt is how far the gesture lies off its pitch so many seconds after its start.
func (g Gesture) CentsAt(seconds float64) float64 {
	return g.Cents + 100*g.note(0).Pitch(g.Start+seconds)
}

// shaken is a gesture of two reeds as notes in turn, the lower first.
func shaken(g Gesture, hz float64) []Gesture {
	var out []Gesture
	step := 1 / hz / 2
	for k := 0; k == 0 || g.Start+float64(k)*step < g.End-step/2; k++ {
		n := g
		n.Start = g.Start + float64(k)*step
		n.End = min(n.Start+step, g.End)
		n.Actions, n.Attack, n.Release = g.Actions[k%2:k%2+1], slurAttack/2, slurAttack/2
		out = append(out, n)
	}
	return out
}

// slap is the short burst of the holes below, or above hole 1, before a note.
func slap(h harp.Harp, g Gesture) (Gesture, bool) {
	a := g.Actions[0]
	var beside []harp.Action
	for _, hole := range []int{a.Hole - 2, a.Hole - 1, a.Hole + 1, a.Hole + 2} {
		n := harp.Action{Breath: a.Breath, Hole: hole}
		if h.Plays(n) && len(beside) < 2 && (len(beside) == 0 || hole-beside[0].Hole == 1) {
			beside = append(beside, n)
		}
	}
	s := Gesture{Start: g.Start, End: g.Start + slapSeconds, Actions: beside, Level: g.Level + slapDB,
		Attack: minFade, Release: slurAttack}
	return s, len(beside) > 0
}
