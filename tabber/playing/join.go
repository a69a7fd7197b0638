package playing

import (
	"math"
	"slices"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/pitch/contour"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

const (
	joinGap     = 0.12   // s between two events at most, if one goes on from the other
	envelope    = 0.0116 // s over which the level is taken, or one and a half periods
	envelopeHop = 64     // samples
	joinBefore  = 0.09   // s before the start of an event within which the level may dip,
	joinAfter   = 0.05   // and after it
	joinSide    = 0.08   // s beyond those that tell the level beside the dip
	gapDepth    = 6.0    // dB down from which the gap counts
	silentDB    = -120
	joinFrames  = 24 // from the start of an event in which its beginning is looked at
)

// goesOn reports whether b may go on from a in one breath.
func goesOn(a, b tab.Event) bool {
	return len(a.Actions) > 0 && len(b.Actions) > 0 && b.Start-a.End < joinGap &&
		a.Actions[0].Breath == b.Actions[0].Breath
}

// join measures how b goes on from a: how deep the level dips over 12 ms and how long it
// is gapDepth down, how deep the partials of the reeds dip over 46 ms, and how the air
// between the partials bursts out. S are spectra in which frame start is that of b's start.
func (t tuned) join(c decode.Clip, s contour.Spectra, start int, a, b tab.Event) join {
	lowest := math.Inf(1)
	var reeds []float64
	for _, x := range slices.Concat(a.Actions, b.Actions) {
		hz := t.hz(x)
		reeds = append(reeds, hz)
		lowest = min(lowest, hz)
	}
	var j join
	level := levelAround(c, b.Start, max(envelope, 1.5/lowest))
	j.dip, j.gap = dipOf(level)
	j.partialDip = partialDip(s, start, reeds)
	j.air = burst(s.Air(reeds), start)
	j.same = slices.Equal(a.Actions, b.Actions)
	j.sameReed = slices.ContainsFunc(
		b.Actions,
		func(x harp.Action) bool { return slices.Contains(a.Actions, x) },
	)
	j.apart = max(0, b.Start-a.End)
	return j
}

// join is what is measured where an event may go on from the one before.
type join struct {
	dip            float64 // dB by which the level falls between them
	gap            float64 // s that it is gapDepth down or more
	partialDip     float64 // dB, of the reeds of both together
	air            float64 // dB by which what lies between the partials stands out
	apart          float64 // s from end to start
	same, sameReed bool    // all reeds begin again, one of them
}

// levelAround is the level in dB every envelopeHop samples from joinBefore+joinSide
// before a time to joinAfter+joinSide after it, over so many seconds.
func levelAround(c decode.Clip, at, seconds float64) []float64 {
	half := int(seconds * pitch.Rate / 2)
	from := int((at - c.Start - joinBefore - joinSide) * pitch.Rate)
	to := int((at - c.Start + joinAfter + joinSide) * pitch.Rate)
	var out []float64
	for i := from; i < to; i += envelopeHop {
		sum, n := 0.0, 0
		for k := max(0, i-half); k < min(len(c.Samples), i+half); k++ {
			sum += c.Samples[k] * c.Samples[k]
			n++
		}
		out = append(out, 10*math.Log10(sum/float64(max(n, 1))+1e-12))
	}
	return out
}

// dipOf tells how deep a level around a start dips against both sides, and how long
// it is gapDepth under the softer of them.
func dipOf(level []float64) (db, seconds float64) {
	per := float64(pitch.Rate) / envelopeHop
	first, last := int(joinSide*per), len(level)-int(joinSide*per)
	low := first
	for i := first; i < last; i++ {
		if level[i] < level[low] {
			low = i
		}
	}
	side := func(x []float64) float64 { return slices.Max(x) }
	beside := min(
		side(level[max(0, low-int(joinSide*per)):low+1]),
		side(level[low:min(len(level), low+int(joinSide*per))]),
	)
	db = beside - level[low]
	if db < gapDepth {
		return db, 0
	}
	for i := low; i >= 0 && level[i] < beside-gapDepth; i-- {
		seconds += 1 / per
	}
	for i := low + 1; i < len(level) && level[i] < beside-gapDepth; i++ {
		seconds += 1 / per
	}
	return db, seconds
}

// partialDip is by how many dB the reeds together fall about a frame.
func partialDip(s contour.Spectra, start int, reeds []float64) float64 {
	var together []float64
	for _, hz := range reeds {
		for i, v := range s.Level(contour.Note{Hz: hz}) {
			if i == len(together) {
				together = append(together, 0)
			}
			together[i] += math.Pow(10, v/10)
		}
	}
	low := start
	for i := max(1, start-5); i <= start+3 && i < len(together); i++ {
		if together[i] < together[low] {
			low = i
		}
	}
	before, after := slices.Max(
		together[max(0, low-6):low+1],
	), slices.Max(
		together[low:min(len(together), low+7)],
	)
	return 10 * math.Log10(min(before, after)/(together[low]+1e-12))
}

// burst is by how many dB the loudest of the frames about a start is above the median
// of those after it.
func burst(air []float64, start int) float64 {
	if start+8 >= len(air) || air[start] == silentDB {
		return 0
	}
	return slices.Max(air[max(0, start-2):start+4]) - pitch.Median(air[start+5:min(len(air), start+20)])
}

// decided is what is told of a join.
func (j *join) decided() tab.Join {
	return tab.Join{
		Tongued: sureOf(tab.Tongued, j.cues()), DipDB: max(j.dip, 0), GapMS: 1000 * j.gap, AirDB: j.air,
		Again: j.sameReed,
	}
}

// withJoins marks where the breath goes on unlike it does in most places of the section:
// tongued in a section that is mostly legato, and the other way round. A reed that sounds
// again is tongued in any case, and has no mark. The events are changed and returned.
func withJoins(events []tab.Event) []tab.Event {
	usual := UsualJoin(events)
	for i := range events {
		if how := events[i].Join.How(); how != "" && how != usual && !(how == tab.Tongued && events[i].Join.Again) {
			events[i].Marks = append(events[i].Marks, tab.Mark{Name: how, Confidence: events[i].Join.Sure()})
		}
	}
	return events
}

// UsualJoin is how most notes of a section that go on in one breath are begun:
// tab.Tongued or tab.Legato; empty if it is heard of none.
func UsualJoin(events []tab.Event) string {
	legato, tongued := 0, 0
	for _, e := range events {
		switch how := e.Join.How(); {
		case how == tab.Legato:
			legato++
		case how == tab.Tongued && !e.Join.Again:
			tongued++
		}
	}
	switch {
	case tongued > legato:
		return tab.Tongued
	case legato > 0:
		return tab.Legato
	}
	return ""
}
