package playing

import (
	"math"
	"slices"

	"blowdraw/pitch"
	"blowdraw/pitch/contour"
	"blowdraw/tabber/tab"
)

// surrounding is what tells of the other events of a section.
type surrounding struct {
	late   float64 // weight of the scoop that comes of the reed alone
	before *tab.Event
	after  *tab.Event

	louder  float64 // dB than the median of the events around; NaN where there are too few
	reed    float64 // dB that the event's reeds are louder elsewhere
	uneven  float64 // median dB by which the events around are louder or softer
	several bool    // reeds sound together
}

const (
	leastAccent  = 2 // dB
	aroundEvents = 6 // before and after an event, to whose level its own is held
	unevenEvents = 8
	leastAround  = 4
)

// surroundings tells what stands around each event.
func surroundings(events []tab.Event, how []Playing) []surrounding {
	out := make([]surrounding, len(events))
	above := louder(events, how)
	reeds := map[string][]float64{}
	for i, e := range events {
		if !math.IsNaN(above[i]) {
			reeds[reedsOf(e)] = append(reeds[reedsOf(e)], above[i])
		}
	}
	for i, late := range late(events, how) {
		x := surrounding{late: late, louder: above[i], several: len(events[i].Actions) > 1}
		if i > 0 {
			x.before = &events[i-1]
		}
		if i+1 < len(events) {
			x.after = &events[i+1]
		}
		if others := without(reeds[reedsOf(events[i])], above[i]); len(others) > 0 {
			x.reed = pitch.Median(others) * float64(len(others)) / float64(len(others)+1)
		}
		var off []float64
		for _, j := range beside(i, unevenEvents, len(events)) {
			if !math.IsNaN(above[j]) {
				off = append(off, math.Abs(above[j]))
			}
		}
		x.uneven = pitch.Median(off)
		out[i] = x
	}
	return out
}

// louder is for each event by how many dB a reed of it is louder than the median of those
// around.
func louder(events []tab.Event, how []Playing) []float64 {
	out := make([]float64, len(events))
	for i := range events {
		var around []float64
		for _, j := range beside(i, aroundEvents, len(events)) {
			if how[j].measured {
				around = append(around, how[j].reedLevel(events[j]))
			}
		}
		if out[i] = math.NaN(); how[i].measured && len(around) >= leastAround {
			out[i] = how[i].reedLevel(events[i]) - pitch.Median(around)
		}
	}
	return out
}

// reedLevel is the level in dB of each of the reeds that sound together.
func (m Playing) reedLevel(e tab.Event) float64 {
	return m.level - 10*math.Log10(float64(max(len(e.Actions), 1)))
}

// beside lists the places up to so far from place i, without it, of n.
func beside(i, far, n int) []int {
	var out []int
	for j := max(0, i-far); j <= min(n-1, i+far); j++ {
		if j != i {
			out = append(out, j)
		}
	}
	return out
}

// without is a list with one x less.
func without(list []float64, x float64) []float64 {
	k := slices.Index(list, x)
	if k < 0 {
		return list
	}
	return slices.Delete(slices.Clone(list), k, k+1)
}

// accentCues tell a note that is louder on purpose from reeds that always are, and from
// uneven playing.
func (x surrounding) accentCues() []float64 {
	if math.IsNaN(x.louder) || x.louder < leastAccent {
		return nil
	}
	return []float64{min(x.louder, 20), x.reed, x.uneven, indicator(x.several), x.louder / (1 + x.uneven)}
}

func indicator(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// lg is a logarithm that stays finite.
func lg(x float64) float64 { return math.Log(max(x, 1e-3)) }

// slideCues are what tells a slide that is meant from one that is not.
func (m Playing) slideCues(s slide, late float64) []float64 {
	return []float64{lg(s.weight - late), lg(s.weight), lg(s.Cents), lg(s.Seconds), s.Even, lg(m.rough + 0.3)}
}

// Slides of less, in cents times seconds, are seldom meant; a scoop counts beyond what
// its reed does by itself.
const (
	leastSlide = 0.3
	leastScoop = 0.8
)

// What it takes for a slap, by its probability alone, or with its second reed standing
// out so many dB; of those told by either about two in three are right.
const (
	slapLeast, slapLess = 0.4, 0.25
	slapHeight          = 9
)

// slaps reports whether a note is slapped as its probability has it.
func (m Playing) slaps(probability float64) bool {
	n := len(m.slap)
	return probability >= slapLeast ||
		n > 0 && probability >= slapLess && m.slap[min(1, n-1)].height() >= slapHeight
}

// scoopCues are none for chords, whose reeds spoil each other's partials.
func (m Playing) scoopCues(e tab.Event, x surrounding) []float64 {
	if e.End-e.Start < ornamentMin || m.scoop.weight-x.late < leastScoop || len(e.Actions) > 2 {
		return nil
	}
	return append(
		m.slideCues(m.scoop, x.late),
		indicator(m.join != nil),
		indicator(len(e.Actions) > 1),
		e.Confidence,
	)
}

func (m Playing) fallCues(e tab.Event, x surrounding) []float64 {
	if e.End-e.Start < ornamentMin || m.fall.weight < leastSlide {
		return nil
	}
	on := x.after != nil && x.after.Start-e.End < contiguous
	return append(
		m.slideCues(m.fall, 0),
		indicator(on),
		indicator(len(e.Actions) > 1),
		e.Confidence,
		m.vibrato.Cents*m.vibrato.PitchShare/10,
	)
}

func (m Playing) dipCues(e tab.Event) []float64 {
	if e.End-e.Start < ornamentMin || m.dip.weight < leastSlide {
		return nil
	}
	return append(
		m.slideCues(m.dip, 0)[1:4],
		lg(m.rough+0.3),
		m.vibrato.PitchShare,
		math.Min(m.vibrato.Turns, 6),
		indicator(len(e.Actions) > 1),
	)
}

func (m Playing) slapCues(e tab.Event) []float64 {
	if len(m.slap) == 0 || e.End-e.Start < ornamentMin {
		return nil
	}
	a, b := m.slap[0], m.slap[min(1, len(m.slap)-1)]
	dip := 0.0
	if m.join != nil {
		dip = m.join.dip
	}
	return []float64{
		clamp(a.height(), -5, 25), clamp(a.level, -30, 5), clamp(b.height(), -5, 25), clamp(b.level, -30, 5),
		indicator(len(m.slap) == 1), indicator(m.join != nil), clamp(dip, 0, 30),
	}
}

func clamp(x, lo, hi float64) float64 { return min(max(x, lo), hi) }

// handCues tell hands that open or close; joined: another event is right there at that
// side, and rings on.
func (m Playing) handCues(e tab.Event, b contour.Brighten, joined bool) []float64 {
	if e.End-e.Start < 0.25 || b.Slope() < 1.5 {
		return nil
	}
	return []float64{
		min(
			b.Slope(),
			15,
		), lg(b.Seconds), lg(b.Dark + 0.01), lg(b.DarkLoud + 0.01), min(b.Soft, 20), lg(b.Spread + 0.1), lg(b.Uneven + 0.1),
		b.Even, indicator(joined), indicator(len(e.Actions) > 1), min(b.Slope()/(0.5+b.Spread), 8), clamp(b.Bottom, -15, 5), min(b.Surely, 15),
	}
}

func (m Playing) handVibratoCues(e tab.Event) []float64 {
	v := m.vibrato
	if v.DB < 0.5 || v.Turns < 1.5 || m.vibratoName() != "" {
		return nil
	}
	return []float64{
		lg(v.DB),
		v.LevelShare,
		v.Turns,
		lg(v.Cents),
		v.PitchShare,
		lg(m.rough + 0.3),
		indicator(len(e.Actions) > 1),
	}
}

func (j *join) cues() []float64 {
	if j == nil {
		return nil
	}
	return []float64{
		min(j.dip, 30),
		lg(j.gap + 0.003),
		min(j.partialDip, 25),
		clamp(j.air, -5, 25),
		indicator(j.same),
		indicator(j.sameReed),
		min(j.apart, 0.08) * 100,
	}
}

// cuesOf lists the cues of every mark that is decided by them.
func (m Playing) cuesOf(e tab.Event, x surrounding) map[string][]float64 {
	rings := x.before != nil && e.Start-x.before.End < joinGap
	ringsOn := x.after != nil && x.after.Start-e.End < joinGap
	return map[string][]float64{
		tab.Scoop:       m.scoopCues(e, x),
		tab.Fall:        m.fallCues(e, x),
		tab.Dip:         m.dipCues(e),
		tab.Slap:        m.slapCues(e),
		tab.Wah:         m.handCues(e, m.opening, rings),
		tab.HandClose:   m.handCues(e, m.closing, ringsOn),
		tab.HandVibrato: m.handVibratoCues(e),
		tab.Tongued:     m.join.cues(),
		tab.Accent:      x.accentCues(),
	}
}

// CuesOf are the cues of every mark for each event of a whole section, by its name; nil
// where the mark is out of the question, and for events that the harp cannot play.
func CuesOf(events []tab.Event, how []Playing) []map[string][]float64 {
	out := make([]map[string][]float64, len(events))
	around := surroundings(events, how)
	for i, m := range how {
		if m.measured {
			out[i] = m.cuesOf(events[i], around[i])
		}
	}
	return out
}
