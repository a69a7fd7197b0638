package playing

import (
	"math"
	"slices"
	"strings"

	"blowdraw/onset"
	"blowdraw/pitch"
	"blowdraw/pitch/contour"
	"blowdraw/tabber/tab"
)

// What it takes for a mark. Marks that models decide are written where they are
// probably right, and how sure a scoop must be was set with the bench in view; the other
// numbers were chosen on clips of pitch/ear/train/clips.py, so that where it can be had
// four marks in five are right there.
const (
	probably   = 0.5
	scoopSure  = 0.4 // six in seven are right from here on
	scoopShare = 0.7 // of the notes that have no more than most
	latest     = 1.0 // cents times seconds that a reed does by itself at most: who scoops every time is no reed
	glideCents = 50
	glideMin   = 0.04 // s
	offCents   = 25   // off the tab
	bleedDB    = -8   // from which a neighbour only bleeds in (no source)

	ornamentMin  = 0.1 // s, shorter notes have no ornaments
	vibratoCents = 8
	regular      = 0.7 // share that one sine explains
	dipTurns     = 3   // of what would be a vibrato, that a dip alone can look like
)

// Mark are the events of a whole section with their marks, their loudness and how they
// go on from the one before, decided by how each is played.
func Mark(events []tab.Event, how []Playing) []tab.Event {
	out := slices.Clone(events)
	usual, around := usualLevel(events, how), surroundings(events, how)
	for i := range out {
		e, m := &out[i], how[i]
		if !m.measured {
			continue
		}
		e.Loudness = m.level - usual
		e.Marks = m.marks(*e, around[i])
		pull := i > 0 && pulled(events[i-1], *e)
		if pull {
			e.Marks = append(e.Marks, tab.Mark{Name: tab.Pull})
		}
		if m.join != nil && !pull {
			e.Join = m.join.decided()
		}
		if sure := sureOf(tab.Accent, around[i].accentCues()); sure >= probably {
			e.Marks = append(e.Marks, tab.Mark{Name: tab.Accent, DB: around[i].louder, Confidence: sure})
		}
	}
	out = withJoins(out)
	for i := range out {
		tab.SortMarks(out[i].Marks)
	}
	return out
}

// usualLevel of the events in dB: the median over time.
func usualLevel(events []tab.Event, how []Playing) float64 {
	var levels, seconds []float64
	for i, e := range events {
		if m := how[i]; m.measured && m.shake == 0 {
			levels, seconds = append(levels, m.level), append(seconds, e.End-e.Start)
		}
	}
	return pitch.WeightedMedian(levels, seconds)
}

// late is for each event the weight of the scoop that comes of the reed alone, since
// many speak flat: half of what most notes of the section have or, if that is more,
// the median of the other notes of the same reed where there are two or more.
func late(events []tab.Event, how []Playing) []float64 {
	var all []float32
	reeds := map[string][]float64{}
	for i, e := range events {
		if m := how[i]; m.measured && e.End-e.Start > ornamentMin {
			all = append(all, float32(m.scoop.weight))
			reeds[reedsOf(e)] = append(reeds[reedsOf(e)], m.scoop.weight)
		}
	}
	out := make([]float64, len(events))
	most := pitch.Percentile(all, scoopShare)
	for i, e := range events {
		if len(all) == 0 {
			break
		}
		out[i] = most / 2
		if others := without(reeds[reedsOf(e)], how[i].scoop.weight); len(others) >= 2 {
			out[i] = max(out[i], pitch.Median(others))
		}
		out[i] = min(out[i], latest)
	}
	return out
}

// reedsOf names the reeds of an event, whatever they are bent to.
func reedsOf(e tab.Event) string { return strings.ReplaceAll(tab.Token(e.Actions), "'", "") }

// marks of one event.
func (m Playing) marks(e tab.Event, x surrounding) []tab.Mark {
	var out []tab.Mark
	slid := func(name string, s contour.Slide, sure float64) {
		out = append(out, tab.Mark{Name: name, Cents: math.Round(s.Cents), Seconds: s.Seconds, Confidence: sure})
	}
	if m.shake > 0 {
		return []tab.Mark{{Name: tab.Shake, Hz: m.shake}}
	}
	switch {
	case m.glide.Seconds < glideMin || math.Abs(m.glide.Cents) < glideCents:
	case m.glide.Cents > 0:
		slid(tab.Release, m.glide, 0)
	default:
		slid(tab.Glide, m.glide, 0)
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
	sure := map[string]float64{}
	for name, cues := range m.cuesOf(e, x) {
		sure[name] = sureOf(name, cues)
	}
	scooped := sure[tab.Scoop] >= scoopSure // passes through the pitches of holes beside it
	if m.slaps(sure[tab.Slap]) && !(scooped && sure[tab.Slap] < sure[tab.Scoop]) {
		out = append(out, tab.Mark{Name: tab.Slap, Confidence: sure[tab.Slap]})
	}
	if scooped {
		slid(tab.Scoop, m.scoop.Slide, sure[tab.Scoop])
	}
	for _, h := range []struct {
		name string
		b    contour.Brighten
	}{{tab.Wah, m.opening}, {tab.HandClose, m.closing}} {
		if sure[h.name] >= probably {
			out = append(out, tab.Mark{Name: h.name, DB: h.b.DB, Seconds: h.b.Seconds, Confidence: sure[h.name]})
		}
	}
	dips := sure[tab.Dip] >= probably
	swing := 0.0 // of a vibrato, which is no fall
	name := m.vibratoName()
	if sure[tab.HandVibrato] >= probably && name == "" {
		name = tab.HandVibrato
	}
	if name != "" && !(dips && m.vibrato.Turns < dipTurns) {
		v := m.vibrato
		swing = 2 * v.Cents
		out = append(
			out,
			tab.Mark{Name: name, Hz: v.Hz, Cents: v.Cents, DB: v.DB, Seconds: v.Delay, Confidence: sure[name]},
		)
	}
	if sure[tab.Fall] >= probably && m.fall.Cents > swing {
		slid(tab.Fall, m.fall.Slide, sure[tab.Fall])
	}
	if dips && m.dip.Cents > swing {
		slid(tab.Dip, m.dip.Slide, sure[tab.Dip])
	}
	return out
}

// vibratoName tells a throat vibrato, where the pitch swings; empty for none.
func (m Playing) vibratoName() string {
	if v := m.vibrato; v.Cents >= vibratoCents && v.PitchShare >= regular {
		return tab.Vibrato
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
