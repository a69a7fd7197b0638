package render

import (
	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// Gesture is one event as a player thinks of it: reeds that sound together and
// how they are begun, shaped and left. Times are in seconds.
type Gesture struct {
	Start, End float64
	Actions    []harp.Action // ascending by hole
	Levels     []float64     // dB, one for each action; nil: all 0
	Late       []float64     // s after Start that each reed speaks; nil: all 0
	Detune     []float64     // cents off the harp's own tuning, one for each action; nil: all 0
	Level      float64       // dB, of the whole

	Attack, Release                    float64
	Scoop, ScoopTime                   float64 // cents, s
	VibratoHz, VibratoCents, VibratoDB float64
	Contour, Swell                     []Point // cents, dB
	Hands                              []Point // 0 open, 1 closed
	Puff                               float64 // dB, see [Note]
	Cents                              float64 // off the harp's own tuning, as bends are

	// Glide, if above 0, makes a single note go on from the single note before
	// it on the same reed, without a new attack: the pitch slides over Glide
	// seconds about Start. The notes share the shape of the first; End and
	// Release are the second's.
	Glide float64
}

// Tuning is how a harp on a recording is tuned: the maker's temperament, and
// the cents by which the whole recording lies off A4 = 440 Hz.
type Tuning struct {
	Temperament harp.Temperament
	Cents       float64
}

// Pitch is the fractional MIDI number at which the action sounds.
func (t Tuning) Pitch(h harp.Harp, a harp.Action) float64 {
	return float64(h.MIDI(a)) + (t.Cents+t.Temperament.Cents(h, a))/100
}

// Perform plays gestures on a harp: the notes to be rendered and, for each
// gesture, the event that a perfect transcription would write.
func Perform(h harp.Harp, tuning Tuning, gestures []Gesture) ([]Note, []tab.Event) {
	var notes []Note
	var events []tab.Event
	for _, g := range gestures {
		e := tab.Event{
			Start: g.Start, End: g.End, Actions: g.Actions,
			Texture: tab.Texture(g.Actions), Confidence: 1,
		}
		for i, a := range g.Actions {
			n := g.note(i)
			n.MIDI += tuning.Pitch(h, a) + g.Cents/100
			n.Reed = Reed(a)
			n.Dark = 1.5 * float64(max(a.Bend, 0))
			if last := len(notes) - 1; g.Glide > 0 && last >= 0 && notes[last].Reed == n.Reed {
				notes[last] = glide(notes[last], n, g.Glide)
			} else {
				notes = append(notes, n)
			}
			e.Pitches = append(e.Pitches, n.MIDI)
		}
		events = append(events, e)
	}
	return notes, events
}

// Marks are the scoop and the vibrato of the gesture as they stand in a tab.
func (g Gesture) Marks() []tab.Mark {
	var out []tab.Mark
	if g.Scoop > 0 {
		out = append(out, tab.Mark{Name: tab.Scoop, Cents: g.Scoop, Seconds: g.ScoopTime})
	}
	if g.VibratoHz > 0 {
		name := tab.Vibrato
		if g.VibratoCents == 0 {
			name = tab.HandVibrato
		}
		out = append(out, tab.Mark{Name: name, Hz: g.VibratoHz, Cents: g.VibratoCents, DB: g.VibratoDB})
	}
	return out
}

// note is the gesture's i-th reed, its pitch counted from the harp's.
func (g Gesture) note(i int) Note {
	n := Note{
		Start: g.Start, End: g.End, Level: g.Level,
		Attack: g.Attack, Release: g.Release,
		Scoop: g.Scoop, ScoopTime: g.ScoopTime,
		VibratoHz: g.VibratoHz, VibratoCents: g.VibratoCents, VibratoDB: g.VibratoDB,
		Contour: g.Contour, Swell: g.Swell, Hands: g.Hands, Puff: g.Puff,
	}
	if g.Levels != nil {
		n.Level += g.Levels[i]
	}
	if g.Late != nil {
		n.Start += g.Late[i]
	}
	if g.Detune != nil {
		n.MIDI = g.Detune[i] / 100
	}
	return n
}

// glide makes one of two notes of one reed: a slides into b over the given seconds.
func glide(a, b Note, seconds float64) Note {
	now := 0.0
	if len(a.Contour) > 0 {
		now = a.Contour[len(a.Contour)-1].Value
	}
	at := b.Start - a.Start
	a.Contour = append(append([]Point(nil), a.Contour...),
		Point{at - seconds/2, now}, Point{at + seconds/2, 100 * (b.MIDI - a.MIDI)})
	a.Dark = (a.Dark + b.Dark) / 2
	a.End, a.Release = b.End, b.Release
	return a
}

// Reed numbers the reeds of a harp for [Note]. A bend sounds on the reed of
// its hole and breath.
func Reed(a harp.Action) int { return 2*a.Hole + int(a.Breath) }
