package tabber

import (
	"math"

	"blowdraw/pitch/contour"
	"blowdraw/tabber/tab"
)

// cueModel is a logistic model of whether a mark is right, given its cues.
type cueModel struct {
	constant float64
	weights  []float64
}

// probability given the cues; 0 for none.
func (m cueModel) probability(cues []float64) float64 {
	if cues == nil {
		return 0
	}
	odds := m.constant
	for i, w := range m.weights {
		odds += w * cues[i]
	}
	return 1 / (1 + math.Exp(-odds))
}

// surrounding is what tells of the other events of a section.
type surrounding struct {
	late   float64 // weight of the scoop that comes of the reed alone
	before *tab.Event
	after  *tab.Event
}

// surroundings tells what stands around an event.
func surroundings(events []tab.Event, i int, late float64) surrounding {
	x := surrounding{late: late}
	if i > 0 {
		x.before = &events[i-1]
	}
	if i+1 < len(events) {
		x.after = &events[i+1]
	}
	return x
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
func (m playing) slideCues(s slide, late float64) []float64 {
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
func (m playing) slaps(probability float64) bool {
	n := len(m.slap)
	return probability >= slapLeast || n > 0 && probability >= slapLess && m.slap[min(1, n-1)].height() >= slapHeight
}

func (m playing) scoopCues(e tab.Event, x surrounding) []float64 {
	if e.End-e.Start < ornamentMin || m.scoop.weight-x.late < leastScoop {
		return nil
	}
	return append(m.slideCues(m.scoop, x.late), indicator(m.join != nil), indicator(len(e.Actions) > 1), e.Confidence)
}

func (m playing) fallCues(e tab.Event, x surrounding) []float64 {
	if e.End-e.Start < ornamentMin || m.fall.weight < leastSlide {
		return nil
	}
	on := x.after != nil && x.after.Start-e.End < contiguous
	return append(m.slideCues(m.fall, 0), indicator(on), indicator(len(e.Actions) > 1), e.Confidence, m.vibrato.Cents*m.vibrato.PitchShare/10)
}

func (m playing) dipCues(e tab.Event) []float64 {
	if e.End-e.Start < ornamentMin || m.dip.weight < leastSlide {
		return nil
	}
	return append(m.slideCues(m.dip, 0)[1:4], lg(m.rough+0.3), m.vibrato.PitchShare, math.Min(m.vibrato.Turns, 6), indicator(len(e.Actions) > 1))
}

func (m playing) slapCues(e tab.Event) []float64 {
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
func (m playing) handCues(e tab.Event, b contour.Brighten, joined bool) []float64 {
	if e.End-e.Start < 0.3 || b.DB < 2 || b.Seconds < 0.04 {
		return nil
	}
	return []float64{min(b.DB, 20), lg(b.Seconds), lg(b.Dark), lg(b.Soft + 0.01), b.Uneven, m.vibrato.LevelShare, indicator(len(e.Actions) > 1), lg(m.scoop.weight), b.Even, indicator(joined), min(m.vibrato.DB*m.vibrato.LevelShare, 6), min(b.DB, 20) / (0.5 + b.Uneven)}
}

func (m playing) handVibratoCues(e tab.Event) []float64 {
	v := m.vibrato
	if v.DB < 0.5 || v.Turns < 1.5 || m.vibratoName() != "" {
		return nil
	}
	return []float64{lg(v.DB), v.LevelShare, v.Turns, lg(v.Cents), v.PitchShare, lg(m.rough + 0.3), indicator(len(e.Actions) > 1)}
}

func (j *join) cues() []float64 {
	if j == nil {
		return nil
	}
	return []float64{min(j.dip, 30), lg(j.gap + 0.003), min(j.partialDip, 25), clamp(j.air, -5, 25), indicator(j.same), indicator(j.sameReed), min(j.apart, 0.08) * 100}
}

// cuesOf lists the cues of every mark that is decided by them.
func (m playing) cuesOf(e tab.Event, x surrounding) map[string][]float64 {
	return map[string][]float64{
		tab.Scoop: m.scoopCues(e, x), tab.Fall: m.fallCues(e, x), tab.Dip: m.dipCues(e), tab.Slap: m.slapCues(e),
		tab.Wah: m.handCues(e, m.opening, x.before != nil && e.Start-x.before.End < joinGap), tab.HandClose: m.handCues(e, m.closing, x.after != nil && x.after.Start-e.End < joinGap), tab.HandVibrato: m.handVibratoCues(e), tab.Tongued: m.join.cues(),
	}
}
