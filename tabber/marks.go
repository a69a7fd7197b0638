package tabber

import (
	"math"

	"blowdraw/onset"
	"blowdraw/pitch"
	"blowdraw/pitch/contour"
	"blowdraw/tabber/tab"
)

// What it takes for a mark. Chosen on clips of pitch/ear/train/clips.py, never on the
// bench.
const (
	scoopWeight = 0.7 // cents times seconds beyond half of what most notes have
	scoopShare  = 0.7 // of the notes that have no more than that
	fallWeight  = 1.0
	dipWeight   = 1.6
	slapDB      = 12
	glideCents  = 50
	glideMin    = 0.04 // s
	offCents    = 25
	accentDB    = 5

	ornamentMin  = 0.1 // s, shorter notes have no ornaments
	vibratoCents = 8
	vibratoDB    = 1.0 // of a hand vibrato
	regular      = 0.7 // share that one sine explains
	stillCents   = 5   // that the pitch moves at most in a hand vibrato
	handTurns    = 2
)

// mark puts marks on the events of a whole section and says how loud they are.
func (p playings) mark(events []tab.Event) {
	late, usual := p.usual(events)
	for i := range events {
		e := &events[i]
		m, ok := p[e.Start]
		if !ok {
			continue
		}
		e.Loudness = m.level - usual
		e.Marks = m.marks(*e, late)
		if i > 0 && pulled(events[i-1], *e) {
			e.Marks = append(e.Marks, tab.Mark{Name: tab.Pull})
		}
		if db := p.standsOut(events, i); db >= accentDB {
			e.Marks = append(e.Marks, tab.Mark{Name: tab.Accent, DB: db})
		}
		tab.SortMarks(e.Marks)
	}
}

// usual is what the notes of a section have in common: the weight of the scoop that
// their reeds make by themselves, and their level in dB.
func (p playings) usual(events []tab.Event) (scoop, level float64) {
	var weights []float32
	var levels, seconds []float64
	for _, e := range events {
		m, ok := p[e.Start]
		if !ok {
			continue
		}
		if e.End-e.Start > ornamentMin {
			weights = append(weights, float32(m.scoop.weight))
		}
		levels, seconds = append(levels, m.level), append(seconds, e.End-e.Start)
	}
	if len(weights) > 0 {
		scoop = pitch.Percentile(weights, scoopShare)
	}
	return scoop, pitch.WeightedMedian(levels, seconds)
}

// marks of one event by itself. Late is the weight of the scoop that most notes of
// the section have.
func (m playing) marks(e tab.Event, late float64) []tab.Mark {
	var out []tab.Mark
	slid := func(name string, s contour.Slide) {
		out = append(out, tab.Mark{Name: name, Cents: math.Round(s.Cents), Seconds: s.Seconds})
	}
	if m.shake > 0 {
		return []tab.Mark{{Name: tab.Shake, Hz: m.shake}}
	}
	switch {
	case m.glide.Seconds < glideMin || math.Abs(m.glide.Cents) < glideCents:
	case m.glide.Cents > 0:
		slid(tab.Release, m.glide)
	default:
		slid(tab.Glide, m.glide)
	}
	if e.End-e.Start < ornamentMin {
		return out
	}
	if len(e.Actions) == 1 && math.Abs(m.offPitch) >= offCents {
		out = append(out, tab.Mark{Name: tab.OffPitch, Cents: math.Round(m.offPitch)})
	}
	if m.slap >= slapDB {
		out = append(out, tab.Mark{Name: tab.Slap})
	}
	if m.scoop.weight-late/2 >= scoopWeight {
		slid(tab.Scoop, m.scoop.Slide)
	}
	swing := 0.0 // of a vibrato, which is neither a fall nor a dip
	if name := m.vibratoName(); name != "" {
		v := m.vibrato
		swing = 2 * v.Cents
		out = append(out, tab.Mark{Name: name, Hz: v.Hz, Cents: v.Cents, DB: v.DB, Seconds: v.Delay})
	}
	if m.fall.weight >= fallWeight && m.fall.Cents > swing {
		slid(tab.Fall, m.fall.Slide)
	}
	if m.dip.weight >= dipWeight && m.dip.Cents > swing {
		slid(tab.Dip, m.dip.Slide)
	}
	return out
}

// vibratoName tells throat vibrato, where the pitch swings, from hand vibrato, where
// it hardly does; empty for neither.
func (m playing) vibratoName() string {
	v := m.vibrato
	switch {
	case v.Cents >= vibratoCents && v.PitchShare >= regular:
		return tab.Vibrato
	case v.Cents < stillCents && v.DB >= vibratoDB && v.LevelShare >= regular && v.Turns >= handTurns:
		return tab.HandVibrato
	}
	return ""
}

// pulled reports whether b is what is left of the chord a in the same breath.
func pulled(a, b tab.Event) bool {
	if len(a.Actions) < 2 || len(b.Actions) != 1 || b.Start-a.End > contiguous || a.End-a.Start > onset.Space {
		return false
	}
	for _, x := range a.Actions {
		if x == b.Actions[0] {
			return true
		}
	}
	return false
}

// standsOut is by how many dB an event's peak is above the median of the two events
// before it and the two after it.
func (p playings) standsOut(events []tab.Event, i int) float64 {
	var around []float64
	for j := max(0, i-2); j <= min(len(events)-1, i+2); j++ {
		if m, ok := p[events[j].Start]; ok && j != i {
			around = append(around, m.peak)
		}
	}
	if len(around) < 3 {
		return 0
	}
	return p[events[i].Start].peak - median(around)
}
