package tabber

import (
	"math"
	"sort"
	"sync"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

const (
	onsetFrames = 4    // an event begins here if it begins within 46 ms
	leastShare  = 0.03 // alternatives below this probability are not worth showing
	mostShown   = 3
)

// events decides what was played in a clip of which the ear heard f, given what was
// heard before it, and returns what will have been heard before the next.
func (t *Transcriber) events(c decode.Clip, f pitch.Frames, past nearby) ([]tab.Event, nearby) {
	spans, n, p := t.decide(c, f, past)
	out := make([]tab.Event, len(spans))
	for i, c := range t.confidences(f, p, spans, n) {
		out[i] = t.event(f, p, spans[i], c)
	}
	return out, n
}

// decide searches for the likeliest stretches, asks about octaves, and meanwhile takes
// forward and backward probabilities over the same lattice. What was heard in the past
// goes into what is nearby.
func (t *Transcriber) decide(c decode.Clip, f pitch.Frames, past nearby) (spans []span, n nearby, p posterior) {
	l := newLattice(t.states, f, t.method.weights)
	var wg sync.WaitGroup
	wg.Go(func() { p = l.another().posterior() })
	spans = t.spans(l, f)
	n = t.nearby(c, f, spans, past)
	wg.Wait()
	return spans, n, p
}

// spans are the likeliest stretches, their begins and ends set right.
func (t *Transcriber) spans(l *lattice, f pitch.Frames) []span {
	if f.Loud == nil {
		return t.sharpen(f, l.best())
	}
	return t.trim(f, t.joinLate(f, l.best()))
}

func (t *Transcriber) event(f pitch.Frames, p posterior, s span, confidence float64) tab.Event {
	st := t.states[s.state]
	e := tab.Event{
		Start: f.Time(s.from), End: f.Time(s.to),
		Actions: st.actions, Texture: tab.Texture(st.actions),
		Confidence: confidence,
	}
	for _, r := range st.rows {
		e.Pitches = append(e.Pitches, measured(f, r, s))
	}
	e.Alternatives = t.alternatives(p, s, confidence)
	if len(st.actions) == 0 {
		e.Alternatives = t.nearest(st.rows[0])
	}
	return e
}

// sameSound lists the states that differ from i in name only, such as draw 2
// and blow 3.
func (t *Transcriber) sameSound(i int) []int {
	var out []int
	for j, s := range t.states {
		if len(s.rows) == 1 && len(t.states[i].rows) == 1 && s.rows[0] == t.states[i].rows[0] || j == i {
			out = append(out, j)
		}
	}
	return out
}

// begins is the probability that one of the states begins within reach frames
// of frame at.
func (p posterior) begins(states []int, at, reach int) float64 {
	sum := 0.0
	n := len(p.begin) / p.s
	for k := max(0, at-reach); k <= min(n-1, at+reach); k++ {
		for _, i := range states {
			sum += float64(p.begin[k*p.s+i])
		}
	}
	return min(sum, 1)
}

// alternatives are the other states that may have sounded during the span. What
// the chosen one leaves is dealt out among them (silence included) as the
// posterior has it, to none more than the chosen one has itself: what is left is
// partly wrong times, and taking the other reading instead is wrong more often.
func (t *Transcriber) alternatives(p posterior, s span, confidence float64) []tab.Alternative {
	share := t.shares(p, s)
	same := map[int]bool{}
	for _, i := range t.sameSound(s.state) {
		same[i] = true
	}
	others := 0.0
	for i, x := range share {
		if !same[i] {
			others += x
		}
	}
	var out []tab.Alternative
	for i, x := range share {
		if same[i] || x == 0 || len(t.states[i].actions) == 0 {
			continue
		}
		if c := min((1-confidence)*x/others, confidence); c >= leastShare {
			out = append(out, tab.Alternative{Actions: t.states[i].actions, Confidence: c})
		}
	}
	sort.SliceStable(out, func(a, b int) bool { return out[a].Confidence > out[b].Confidence })
	return out[:min(len(out), mostShown)]
}

// shares are the probabilities of the states over a span: what the posterior says,
// with what is an octave and what its lower reed alone dealt out as the partials
// have it.
func (t *Transcriber) shares(p posterior, s span) []float64 {
	share := make([]float64, p.s)
	from, to := s.from+1, max(s.to-1, s.from+2)
	for k := from; k < to && k*p.s < len(p.in); k++ {
		for i := range share {
			share[i] += float64(p.in[k*p.s+i]) / float64(to-from)
		}
	}
	if low, both := t.octaveOf(s.state); s.octave != 0 {
		either := share[low] + share[both]
		share[both] = either / (1 + math.Exp(-s.octave))
		share[low] = either - share[both]
	}
	return share
}

// nearest lists the actions whose notes lie nearest to a row.
func (t *Transcriber) nearest(r int) []tab.Alternative {
	acts := t.harp.Actions(t.opt.Overbends)
	sort.SliceStable(acts, func(a, b int) bool {
		return abs(row(t.harp, acts[a])-r) < abs(row(t.harp, acts[b])-r)
	})
	var out []tab.Alternative
	for _, a := range acts[:min(2, len(acts))] {
		out = append(out, tab.Alternative{Actions: []harp.Action{a}})
	}
	return out
}

// measured is the pitch of a row over a span as a fractional MIDI number, the
// row's own frequency where nothing could be measured.
func measured(f pitch.Frames, r int, s span) float64 {
	var cents, weights []float64
	for t := s.from; t < s.to; t++ {
		k := t*pitch.Rows + r
		if c := float64(f.Cents[k]); !math.IsNaN(c) {
			cents = append(cents, c)
			weights = append(weights, float64(f.Sounding[k]))
		}
	}
	c := pitch.WeightedMedian(cents, weights)
	if math.IsNaN(c) {
		c = 0
	}
	return float64(f.Axis.Base+r-pitch.RowBelow) + (f.Axis.Cents+c)/100
}

const (
	pullFrames  = 6  // a pitch track may notice a new note this late
	scoopFrames = 8  // a glide into a note takes no longer than this (93 ms)
	fallDB      = 12 // a note before silence ends where the level has fallen this far
)

// sharpen moves starts back to the attack that a pitch track notices late, and
// ends before silence to where the level falls; too short remains go.
func (t *Transcriber) sharpen(f pitch.Frames, spans []span) []span {
	var out []span
	for i, s := range spans {
		r := t.states[s.state].rows[0]
		before := 0
		if len(out) > 0 {
			before = out[len(out)-1].from + minFrames
		}
		best := float32(0.5)
		for k := s.from; k >= max(before, s.from-pullFrames); k-- {
			if a := f.Attack[k*pitch.Rows+r]; a > best {
				best, s.from = a, k
			}
		}
		if n := len(out); n > 0 && out[n-1].to > s.from {
			out[n-1].to = s.from
		}
		if i+1 == len(spans) || spans[i+1].from > s.to+1 {
			s.to = fallen(f, s)
		}
		if n := len(out); n > 0 && t.scoops(f, out[n-1], s) {
			s.from = out[n-1].from
			out = out[:n-1]
		}
		if s.to-s.from >= minFrames {
			out = append(out, s)
		}
	}
	return out
}

// scoops reports whether a short deeper bend only glides into the next note.
func (t *Transcriber) scoops(f pitch.Frames, glide, note span) bool {
	a, b := t.states[glide.state].actions, t.states[note.state].actions
	if len(a) != 1 || len(b) != 1 || glide.to != note.from || glide.to-glide.from > scoopFrames {
		return false
	}
	attacked := f.Attack[note.from*pitch.Rows+t.states[note.state].rows[0]] >= 0.5
	return !attacked && a[0].Hole == b[0].Hole && a[0].Breath == b[0].Breath && a[0].Bend > b[0].Bend
}

// fallen is the frame of a span after which the level stays below its median by
// more than fallDB.
func fallen(f pitch.Frames, s span) int {
	usual := pitch.Percentile(f.Level[s.from:s.to], 0.5)
	to := s.to
	for to > s.from+minFrames && float64(f.Level[to-1]) < usual-fallDB {
		to--
	}
	return to
}
