// Package playing tells how the events of a section are played, and which of it is worth a mark.
//
// The stages, in order:
//
//   - [MergeShakes] makes one event of each fast alternation of two neighbouring holes (shake.go).
//   - [Measure] follows the best reed of each event through its sound (package contour: the smoothest
//     path through short spectra) and takes from the line its scoop, fall, dip, vibrato and how far it
//     is off the tab; from the partials the hands that open and close; from the holes to the left a
//     slap; and between two bends of a hole the slide. Where an event may go on from the one before in
//     one breath it measures how (join.go).
//   - [CuesOf] makes the cues of each mark of these and of what stands around an event (cues.go), such
//     as the median level of the events beside it and what the same reed does elsewhere.
//   - [Mark] decides. Logistic models of the cues (models.go; the numbers lie in folder models) decide
//     scoop, fall, dip, slap, hand vibrato, wah, hand-close, accent and tongued or legato; thresholds
//     decide the rest (marks.go). Where the breath goes on, only what differs from what is usual in the
//     section becomes a mark.
//
// What must hold: many reeds speak flat by themselves, so a scoop counts against what the same reed, and
// most notes of the section, do. A scoop begins in the event's own first frame: what lies before a jump
// of pitch or a gap in level is the note before. A bend that is let go into a double stop is no scoop,
// and chords have none, since their reeds spoil each other's partials. What sounds at the start of an
// event and is a partial of the event, or of what rings on, is no slap.
//
// The models are fitted to played clips of seeds 501 to 504 (blowdraw-lab make --played, blowdraw-lab
// fit mark-NAME); what a mark takes was chosen on seeds 601 and 602. They stand on the ear's weights.
package playing

import (
	"cmp"
	"math"
	"slices"

	"blowdraw/decode/parallel"
	"blowdraw/pitch"
	"blowdraw/pitch/contour"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/reading"
	"blowdraw/tabber/tab"
)

// Playing is what is measured of how an event is played, before it is decided which
// of it is worth a mark. That of an event that the harp cannot play is zero.
type Playing struct {
	measured  bool
	offPitch  float64 // cents above what the tab says, where it is steady; single notes
	level     float64 // dB of its own partials
	scoop     slide
	fall, dip slide
	glide     contour.Slide // from a bend of the same hole, up is above 0
	vibrato   contour.Vibrato
	bleed     float64 // dB of the weaker of two neighbours against the other
	shake     float64 // Hz, there and back; 0 for none
	rough     float64 // cents: see [contour.Line.Rough]
	slap      []bump  // of the reeds beside it, the clearest first
	join      *join   // nil where it does not go on from the event before

	opening, closing contour.Brighten
}

// slide is a slide with its weight: see [contour.Line.Scoop].
type slide struct {
	contour.Slide
	weight float64
}

const (
	beforeFrames = 4    // a note is followed from so long before its start,
	joinedFrames = 1    // or so long if the note before lasts until then: no scoop begins there
	contiguous   = 0.03 // s between two notes of one breath at most
	ringSeconds  = 0.15 // that a note may ring on
	leastLine    = 5    // frames
	endFrames    = 5    // in which a note that has ended may ring on
	lowest       = -260 // cents below a note that it is followed to
	highest      = 130
)

// tuned is a harp on a recording so many cents off A4 = 440 Hz.
type tuned struct {
	harp.Harp
	cents float64
}

// hz is the frequency of an action.
func (t tuned) hz(a harp.Action) float64 {
	return pitch.MIDIToHz(float64(t.MIDI(a)) + t.cents/100)
}

// Measure how those events of a window are played that start in [from, to) seconds, on a
// recording cents off A4 = 440 Hz. What comes back has one for each event, nothing for the
// others. Shakes are those of the events, as [MergeShakes] gives them.
func Measure(h harp.Harp, s reading.Sound, cents float64, events []Shaken, from, to float64) []Playing {
	t := tuned{h, cents}
	analyzers := make([]*contour.Analyzer, parallel.Workers())
	plain := make([]tab.Event, len(events))
	for i, e := range events {
		plain[i] = e.Event
	}
	out := make([]Playing, len(events))
	parallel.Each(len(events), func(worker, i int) {
		if e := events[i]; len(e.Actions) == 0 || e.Start < from || e.Start >= to {
			return
		}
		if analyzers[worker] == nil {
			analyzers[worker] = contour.NewAnalyzer()
		}
		out[i] = t.playing(analyzers[worker], s, plain, i)
		out[i].measured, out[i].shake = true, events[i].Hz
	})
	return out
}

// playing measures event i of a window, but for its shake.
func (t tuned) playing(a *contour.Analyzer, w reading.Sound, events []tab.Event, i int) Playing {
	e := events[i]
	before := beforeFrames
	joined := i > 0 && e.Start-events[i-1].End < contiguous
	if joined {
		before = joinedFrames
	}
	start := w.Frames.At(e.Start)
	lead := max(before, slapBefore)
	end, rings := max(w.Frames.At(e.End)+1, start+leastLine), endFrames
	if i+1 < len(events) {
		rings = min(max(0, w.Frames.At(events[i+1].Start)+1-end), rings)
	}
	s := a.Spectra(w.Clip.Samples, start-lead, end+rings)
	m := t.measure(s.From(lead-before), before, rings, e)
	var ringing []harp.Action
	if i > 0 && e.Start-events[i-1].End < ringSeconds {
		ringing = events[i-1].Actions
	}
	begin := s.Until(lead + joinFrames)
	m.slap = t.slap(begin, lead, e, ringing, m.level)
	if i > 0 && goesOn(events[i-1], e) {
		j := t.join(w.Clip, begin, lead, events[i-1], e)
		m.join = &j
	}
	if joined && bendOf(events[i-1], e) {
		if m.glide = t.glide(a, w, events[i-1], e); m.glide.Seconds > 0 {
			m.scoop = slide{}
		}
	}
	if ringing != nil && letGo(events[i-1], e) {
		m.scoop = slide{}
	}
	return m
}

// measure follows the reed of an event that can be followed best, through all frames but
// the last, in which it may ring on. The event begins after the first ones.
func (t tuned) measure(all contour.Spectra, first, last int, e tab.Event) Playing {
	s := all.Until(all.Len() - last)
	var best contour.Line
	hz := 0.0
	top, power := math.Inf(-1), 0.0
	var levels []float64
	for i := range e.Actions {
		n := contour.Note{Hz: t.hz(e.Actions[i]), Low: lowest, High: highest}
		for j, other := range e.Actions {
			if j != i {
				n.Others = append(n.Others, t.hz(other))
			}
		}
		if i > 0 && !n.Apart() {
			continue
		}
		l := s.Follow(n)
		_, level := l.Steady()
		if level > top {
			best, top, hz = l, level, n.Hz
		}
		power += math.Pow(10, level/10)
		levels = append(levels, level)
	}
	m := Playing{level: 10 * math.Log10(power)}
	if tab.Texture(e.Actions) == tab.Double && len(levels) == 2 {
		m.bleed = -math.Abs(levels[0] - levels[1])
	}
	if len(e.Actions) == 1 {
		m.offPitch, _ = best.Steady()
	}
	scooped := best
	if first == joinedFrames {
		scooped = best.From(first)
	}
	m.scoop.Slide, m.scoop.weight = scooped.Scoop()
	m.fall.Slide, m.fall.weight = best.Fall()
	m.dip.Slide, m.dip.weight = best.Dip()
	m.vibrato = best.Vibrato(m.scoop.Seconds)
	m.rough = best.Rough()
	m.opening, m.closing = all.Hands(best, hz, first, s.Len())
	return m
}

// bendOf reports whether two events are bends of one hole in one breath.
func bendOf(a, b tab.Event) bool {
	return len(a.Actions) == 1 && len(b.Actions) == 1 && a.Actions[0].Hole == b.Actions[0].Hole &&
		a.Actions[0].Breath == b.Actions[0].Breath && a.Actions[0].Bend != b.Actions[0].Bend
}

// letGo reports whether b is of two reeds or more, one of which a bends: it slides up out
// of that bend.
func letGo(a, b tab.Event) bool {
	return len(b.Actions) > 1 && slices.ContainsFunc(b.Actions, func(x harp.Action) bool {
		return slices.ContainsFunc(a.Actions, func(y harp.Action) bool {
			return x.Hole == y.Hole && x.Breath == y.Breath && x.Bend < y.Bend
		})
	})
}

const (
	glideAround = 0.2 // s of two notes that are looked at for the glide between them
	stopped     = 6   // dB by which the level falls where the breath stops
)

// glide measures the slide from one bend of a hole to another; zero if the breath
// stops between them.
func (t tuned) glide(a *contour.Analyzer, w reading.Sound, from, to tab.Event) contour.Slide {
	move := 100 * float64(t.MIDI(to.Actions[0])-t.MIDI(from.Actions[0]))
	lo := max(from.Start, to.Start-glideAround)
	hi := min(to.End, to.Start+glideAround)
	s := a.Spectra(w.Clip.Samples, w.Frames.At(lo), w.Frames.At(hi)+1)
	l := s.Follow(contour.Note{Hz: t.hz(to.Actions[0]), Low: min(-move, 0) - 70, High: max(-move, 0) + 70})
	middle := l.Level[len(l.Level)/3 : len(l.Level)-len(l.Level)/3]
	if pitch.Median(l.Level)-slices.Min(middle) > stopped {
		return contour.Slide{}
	}
	return l.Glide()
}

const (
	slapBefore = 9   // frames before an event that its neighbours are looked at
	slapLead   = 3   // frames before its start at which a slap may be loudest,
	slapFrames = 5   // and after it
	slapAside  = 3   // frames from there after which, and before which, it is over
	slapRest   = 6   // frames beyond those in which it rests
	slapHoles  = 3   // to the left of the lowest hole
	faintest   = -30 // dB against the note from which a rest is no fainter
)

// bump is how a level stands out for a moment, in dB: against just before, against
// just after, and against the note as it is in its middle and at that moment.
type bump struct{ up, down, level, beside float64 }

// height is by how much it stands out both ways.
func (b bump) height() float64 { return min(b.up, b.down) }

// slap measures how the reeds to the left of an event, of its breath, stand out at its
// start, the clearest first. Partials of the event itself and of what rings on from
// before do not count.
func (t tuned) slap(
	s contour.Spectra,
	start int,
	e tab.Event,
	ringing []harp.Action,
	loud float64,
) (reeds []bump) {
	var own, others []float64
	for _, a := range e.Actions {
		own = append(own, t.hz(a))
	}
	others = append(others, own...)
	for _, a := range ringing {
		others = append(others, t.hz(a))
	}
	note := s.Level(contour.Note{Hz: own[0], Others: own[1:]})
	for hole := max(1, e.Actions[0].Hole-slapHoles); hole < e.Actions[0].Hole; hole++ {
		a := harp.Action{Breath: e.Actions[0].Breath, Hole: hole}
		n := contour.Note{Hz: t.hz(a), Others: others}
		if n.Apart() && !slices.Contains(ringing, a) {
			reeds = append(reeds, highestBump(s.Level(n), note, start, loud))
		}
	}
	slices.SortFunc(reeds, func(a, b bump) int { return cmp.Compare(b.height(), a.height()) })
	return reeds
}

// highestBump of a level near a frame.
func highestBump(level, note []float64, start int, loud float64) bump {
	var best bump
	for i := start - slapLead; i <= start+slapFrames && i+slapAside < len(level); i++ {
		before := slices.Min(level[i-slapRest : i-slapAside+1])
		after := pitch.Median(level[i+slapAside : min(i+slapAside+slapRest, len(level))])
		b := bump{
			level[i] - max(before, loud+faintest),
			level[i] - max(after, loud+faintest),
			level[i] - loud,
			level[i] - note[i],
		}
		if i == start-slapLead || b.height() > best.height() {
			best = b
		}
	}
	return best
}
