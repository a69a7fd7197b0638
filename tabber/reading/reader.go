// Package reading makes events of what a lattice finds in a window of sound: where each
// begins and ends, whether it is an octave or one reed, how sure it is, and what else it
// may have been.
//
// The stages of [Reader.Read], in order: the search (package lattice); begins and ends
// set right (ends.go); one reed or an octave asked again of the partials (octave.go), with
// what is near kept (nearby.go); reeds that enter late or leave early (heard.go); how sure
// (confidence.go). [Reader.Event] then makes the event of a span, and [Reader.Texture] tells
// one note, two neighbours, a split and a chord apart (texture.go).
package reading

import (
	"math"
	"slices"
	"sort"
	"sync"

	"blowdraw/decode"
	"blowdraw/decode/logistic"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/tab"
)

// Sound is a window of sound, mono at pitch.Rate, and what an ear heard of it.
type Sound struct {
	Clip   decode.Clip
	Frames pitch.Frames
}

// Span is a stretch in one state, with what was asked about it.
type Span struct {
	lattice.Span
	Octave float64 // log odds of an octave rather than its lower reed alone; 0 where that is no question
	Parted bool    // it is a part of what was found, see Reader.Parted,
	Whole  int     // which was in this state
}

// found is the state of the whole that a span is, or is a part of.
func (s Span) found() int {
	if s.Parted {
		return s.Whole
	}
	return s.State
}

// Reader reads what is played on a harp.
type Reader struct {
	Harp   harp.Harp
	States lattice.States
	Choice lattice.Choice
	Method lattice.Method
	Ends   Ends
	models models
}

// models are the fitted ones.
type models struct {
	octave, confidence logistic.Model
	texture            textureModel
}

// New is a reader with what was fitted to the learned ear, which hears several reeds, or
// with what was set for the classical one.
func New(h harp.Harp, c lattice.Choice) Reader {
	if !c.Several {
		return NewBy(h, c, lattice.Classical(), Ends{})
	}
	return NewBy(h, c, lattice.Learned(), LearnedEnds())
}

// NewBy is a reader with other numbers.
func NewBy(h harp.Harp, c lattice.Choice, m lattice.Method, ends Ends) Reader {
	return Reader{
		Harp: h, States: lattice.List(h, c, m.Priors), Choice: c, Method: m, Ends: ends,
		models: models{octaveModel(), confidenceModel(), learnedTexture()},
	}
}

// For is the same reader for another harp.
func (r Reader) For(h harp.Harp) Reader {
	r.Harp, r.States = h, lattice.List(h, r.Choice, r.Method.Priors)
	return r
}

// Reading is what was read of a window: spans in order of time, how sure each is, the
// posterior behind them, and what is near for the next window.
type Reading struct {
	Sound
	Spans       []Span
	Confidences []float64
	Posterior   lattice.Posterior
	Near        Nearby
}

// Read decides what was played, given what was read before.
func (r Reader) Read(x Sound, past Nearby) Reading {
	l := lattice.New(r.States, x.Frames, r.Method.Weights, nil)
	var wg sync.WaitGroup
	var p lattice.Posterior
	wg.Go(func() { p = l.Another().Posterior() })
	spans := r.Bordered(x.Frames, l.Best())
	asked, near := r.ask(x, spans, past)
	wg.Wait()
	return r.weighed(x, asked, p, near)
}

// ReadBound is [Reader.Read] around what is known: each frame keeps to its bound, and
// only spans in frames that are bound to nothing are read, beside those that are known.
func (r Reader) ReadBound(x Sound, bounds []lattice.Bound, past Nearby) Reading {
	l := lattice.New(r.States, x.Frames, r.Method.Weights, bounds)
	var free, known []lattice.Span
	for _, s := range l.Best() {
		if bounds[s.From].State == lattice.Free {
			free = append(free, s)
		} else {
			known = append(known, s)
		}
	}
	asked, near := r.askBeside(x, unbound(r.Bordered(x.Frames, free), bounds), known, past)
	if len(asked) == 0 {
		return Reading{Sound: x, Near: near}
	}
	return r.weighed(x, asked, l.Posterior(), near)
}

// unbound cuts spans back to frames that are bound to nothing; too short remains
// go.
func unbound(spans []lattice.Span, bounds []lattice.Bound) []lattice.Span {
	var out []lattice.Span
	for _, s := range spans {
		for s.From < s.To && bounds[s.From].State != lattice.Free {
			s.From++
		}
		end := s.From
		for end < s.To && bounds[end].State == lattice.Free {
			end++
		}
		if s.To = end; s.To-s.From >= lattice.MinFrames {
			out = append(out, s)
		}
	}
	return out
}

func (r Reader) weighed(x Sound, spans []Span, p lattice.Posterior, near Nearby) Reading {
	spans = r.Parted(x.Frames, spans)
	return Reading{x, spans, r.confidences(x.Frames, p, spans), p, near}
}

// Events of a reading.
func (r Reader) Events(x Reading) []tab.Event {
	out := make([]tab.Event, len(x.Spans))
	for i := range out {
		out[i] = r.Event(x, i)
	}
	return out
}

// Event is that of span i of a reading.
func (r Reader) Event(x Reading, i int) tab.Event {
	s := x.Spans[i]
	e := r.Bare(x.Frames, s.Span)
	e.Confidence = x.Confidences[i]
	e.Alternatives = r.alternatives(x.Posterior, s, e.Confidence)
	if len(e.Actions) == 0 {
		e.Alternatives = r.nearest(r.States[s.State].Rows[0])
	}
	e.Doubts = withReadings(r.doubts(x, i), e)
	return e
}

// Bare is the event of a span without confidence and alternatives.
func (r Reader) Bare(f pitch.Frames, s lattice.Span) tab.Event {
	st := r.States[s.State]
	e := tab.Event{
		Start:   f.Time(s.From),
		End:     f.Time(s.To),
		Actions: st.Actions,
		Texture: tab.Texture(st.Actions),
	}
	for _, row := range st.Rows {
		e.Pitches = append(e.Pitches, PitchOf(f, row, s))
	}
	return e
}

// PitchOf is the pitch of a row over a span as a fractional MIDI number, the
// row's own frequency where nothing could be measured.
func PitchOf(f pitch.Frames, row int, s lattice.Span) float64 {
	var cents, weights []float64
	for t := s.From; t < s.To; t++ {
		k := t*pitch.Rows + row
		if c := float64(f.Cents[k]); !math.IsNaN(c) {
			cents = append(cents, c)
			weights = append(weights, float64(f.Sounding[k]))
		}
	}
	c := pitch.WeightedMedian(cents, weights)
	if math.IsNaN(c) {
		c = 0
	}
	return f.Axis.MIDI(row) + (f.Axis.Cents+c)/100
}

const (
	leastShown = 0.05 // alternatives below this probability are not worth showing,
	leastAsked = 0.01 // but for the likeliest if a doubt asks for it
	mostShown  = 3
	mostNear   = 2 // actions shown beside a note that the harp lacks
)

// alternatives are the other states that may have sounded during the span. What
// the chosen one leaves is dealt out among them (silence included) as the
// posterior has it, to none more than the chosen one has itself: what is left is
// partly wrong times, and taking the other reading instead is wrong more often.
func (r Reader) alternatives(p lattice.Posterior, s Span, confidence float64) []tab.Alternative {
	share := r.Shares(p, s)
	same := map[int]bool{}
	for _, i := range r.States.SameSound(s.State) {
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
		if same[i] || x == 0 || len(r.States[i].Actions) == 0 {
			continue
		}
		if c := min((1-confidence)*x/others, confidence); c >= leastAsked {
			out = append(out, tab.Alternative{Actions: r.States[i].Actions, Confidence: c})
		}
	}
	sort.SliceStable(out, func(a, b int) bool { return out[a].Confidence > out[b].Confidence })
	return out[:min(len(out), mostShown)]
}

// worthShowing are the alternatives that are likely enough, or else, if one is asked for,
// the likeliest.
func worthShowing(others []tab.Alternative, asked bool) []tab.Alternative {
	n := 0
	for n < len(others) && others[n].Confidence >= leastShown {
		n++
	}
	if asked {
		n = max(n, 1)
	}
	return slices.Clone(others[:min(n, len(others))])
}

// Shares are the probabilities of the states over a span: what the posterior says,
// with what is an octave and what its lower reed alone dealt out as was answered.
func (r Reader) Shares(p lattice.Posterior, s Span) []float64 {
	share := make([]float64, p.States)
	from, to := s.From+1, max(s.To-1, s.From+2)
	for k := from; k < to && k*p.States < len(p.In); k++ {
		for i := range share {
			share[i] += float64(p.In[k*p.States+i]) / float64(to-from)
		}
	}
	if low, both, ok := r.States.OctaveOf(s.State); ok && s.Octave != 0 {
		either := share[low] + share[both]
		share[both] = either / (1 + math.Exp(-s.Octave))
		share[low] = either - share[both]
	}
	return share
}

// nearest lists the actions whose notes lie nearest to a row.
func (r Reader) nearest(row int) []tab.Alternative {
	var out []tab.Alternative
	for _, a := range lattice.Nearest(r.Harp, r.Choice.Overbends, row, mostNear) {
		out = append(out, tab.Alternative{Actions: []harp.Action{a}})
	}
	return out
}

// edgeFrames are those at either end of a span that do not tell of its middle.
const edgeFrames = 2

// core is a span without its edges, where it is long enough.
func core(s lattice.Span) (lo, hi int) {
	if s.To-s.From > 2*edgeFrames {
		return s.From + edgeFrames, s.To - edgeFrames
	}
	return s.From, s.To
}

// MeanSounding is the mean probability that a row sounds over the core of a span.
func MeanSounding(f pitch.Frames, row int, s lattice.Span) float64 {
	lo, hi := core(s)
	sum := 0.0
	for k := lo; k < hi; k++ {
		sum += float64(f.Sounding[k*pitch.Rows+row])
	}
	return sum / float64(hi-lo)
}

// nearFrames are those about the start of a span in which an attack is its own.
const nearFrames = 3

// attackNear is the greatest probability that a row is attacked near a frame.
func attackNear(f pitch.Frames, row, at int) float64 {
	top := float32(0)
	for k := max(0, at-nearFrames); k <= min(f.N-1, at+nearFrames); k++ {
		top = max(top, f.Attack[k*pitch.Rows+row])
	}
	return float64(top)
}
