package tabber

import (
	"math"
	"slices"
	"strings"

	"blowdraw/onset"
	"blowdraw/pitch"
	"blowdraw/pitch/contour"
	"blowdraw/tabber/tab"
)

// What it takes for a mark. Chosen on clips of pitch/ear/train/clips.py, so that where
// it can be had four marks in five are right there.
const (
	scoopWeight = 1.0 // cents times seconds beyond what its reed does by itself
	scoopShare  = 0.7 // of the notes that have no more than most
	latest      = 1.0 // the most that a reed does by itself: who scoops every time is no reed
	fallWeight  = 1.0 // cents times seconds
	dipWeight   = 2   // cents times seconds
	dipTurns    = 3   // of what would be a vibrato, that a dip alone can look like
	slapDB      = 11  // by which the holes beside stand out
	glideCents  = 50
	glideMin    = 0.04 // s
	offCents    = 25   // off the tab
	bleedDB     = -8   // from which a neighbour only bleeds in (no source)
	accentDB    = 5    // above the notes around

	ornamentMin  = 0.1 // s, shorter notes have no ornaments
	vibratoCents = 8
	vibratoDB    = 1.0 // of a hand vibrato
	regular      = 0.7 // share that one sine explains
	stillCents   = 5   // that the pitch moves at most in a hand vibrato
	handTurns    = 2
)

// mark puts marks on the events of a whole section and says how loud they are.
func (p playings) mark(events []tab.Event) {
	late, usual := p.late(events), p.usualLevel(events)
	for i := range events {
		e := &events[i]
		m, ok := p[e.Start]
		if !ok {
			continue
		}
		e.Loudness = m.level - usual
		e.Marks = m.marks(*e, late[i])
		if i > 0 && pulled(events[i-1], *e) {
			e.Marks = append(e.Marks, tab.Mark{Name: tab.Pull})
		}
		if db := p.standsOut(events, i); db >= accentDB {
			e.Marks = append(e.Marks, tab.Mark{Name: tab.Accent, DB: db})
		}
		tab.SortMarks(e.Marks)
	}
}

// usualLevel of the events in dB: the median over time.
func (p playings) usualLevel(events []tab.Event) float64 {
	var levels, seconds []float64
	for _, e := range events {
		if m, ok := p[e.Start]; ok && m.shake == 0 {
			levels, seconds = append(levels, m.level), append(seconds, e.End-e.Start)
		}
	}
	return pitch.WeightedMedian(levels, seconds)
}

// late is for each event the weight of the scoop that comes of the reed alone, since
// many speak flat: half of what most notes of the section have or, if that is more,
// the median of the other notes of the same reed where there are two or more.
func (p playings) late(events []tab.Event) []float64 {
	var all []float32
	reeds := map[string][]float64{}
	for _, e := range events {
		if m, ok := p[e.Start]; ok && e.End-e.Start > ornamentMin {
			all = append(all, float32(m.scoop.weight))
			reeds[reedsOf(e)] = append(reeds[reedsOf(e)], m.scoop.weight)
		}
	}
	out := make([]float64, len(events))
	for i, e := range events {
		if len(all) == 0 {
			break
		}
		out[i] = pitch.Percentile(all, scoopShare) / 2
		others := slices.Clone(reeds[reedsOf(e)])
		if k := slices.Index(others, p[e.Start].scoop.weight); k >= 0 {
			others = slices.Delete(others, k, k+1)
		}
		if len(others) >= 2 {
			out[i] = max(out[i], pitch.Median(others))
		}
		out[i] = min(out[i], latest)
	}
	return out
}

// reedsOf names the reeds of an event, whatever they are bent to.
func reedsOf(e tab.Event) string { return strings.ReplaceAll(tab.Token(e.Actions), "'", "") }

// marks of one event by itself. Late is the weight of the scoop that comes of the
// reed alone.
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
	if m.bleed <= bleedDB {
		out = append(out, tab.Mark{Name: tab.Bleed, DB: math.Round(m.bleed)})
	}
	if m.slap >= slapDB {
		out = append(out, tab.Mark{Name: tab.Slap})
	}
	if m.scoop.weight-late >= scoopWeight {
		slid(tab.Scoop, m.scoop.Slide)
	}
	dips := m.dip.weight >= dipWeight
	swing := 0.0 // of a vibrato, which is no fall
	if name := m.vibratoName(); name != "" && !(dips && m.vibrato.Turns < dipTurns) {
		v := m.vibrato
		swing = 2 * v.Cents
		out = append(out, tab.Mark{Name: name, Hz: v.Hz, Cents: v.Cents, DB: v.DB, Seconds: v.Delay})
	}
	if m.fall.weight >= fallWeight && m.fall.Cents > swing {
		slid(tab.Fall, m.fall.Slide)
	}
	if dips && m.dip.Cents > swing {
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
	return slices.Contains(a.Actions, b.Actions[0])
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
	return p[events[i].Start].peak - pitch.Median(around)
}
