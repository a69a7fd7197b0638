// Package tabber picks the likeliest hole, breath and bend for what an ear
// heard on a given harp, says how sure it is and what else it may have been.
//
// An ear gives pitch.Frames: how likely every semitone row sounds and begins.
// States are silence and everything a player can do with one breath: a note, two
// neighbours, a split, a chord. The likeliest sequence of states (Viterbi 1967)
// is the tab; the forward and backward probabilities over the same lattice
// (Rabiner 1989, "A tutorial on hidden Markov models") are the doubt.
package tabber

import (
	"fmt"
	"math"
	"slices"
	"sync"

	"blowdraw/decode"
	"blowdraw/onset"
	"blowdraw/onset/beat"
	"blowdraw/onset/form"
	"blowdraw/pitch"
	"blowdraw/pitch/ear"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/presence"
	"blowdraw/tabber/tab"
)

// Options of a transcription.
type Options struct {
	Overbends bool                  // allow overblows and overdraws
	Blow3     bool                  // let blow 3 compete with draw 2 on equal terms (first-position playing)
	Tuning    *float64              // cents from A4 = 440 Hz; nil: measure
	Ear       string                // "learned" (default) or "classical"
	BPM       float64               // beats a minute; 0: measure
	Meter     string                // one of tab.Meters; empty: four beats to the bar
	BarAt     *float64              // when a bar begins, seconds; nil: find out
	Taps      []float64             // beats, seconds, ascending; none: find out
	KeepVoice bool                  // write what is probably a voice as well
	SongKey   *int                  // pitch class of the song, for its form; nil: look for none
	Forms     []form.Form           // that it may have; if only one, it has that
	Progress  func(seconds float64) // told how much of the section is done; may be nil
}

// Result is the tab of one section. Times are in seconds from the start of the
// recording.
type Result struct {
	Events      []tab.Event
	Phrases     []tab.Phrase
	Tempo       beat.Result
	Bars        form.Bars
	Form        form.Place
	TuningCents float64
	From, To    float64
	Stretches   []presence.Stretch // who plays where; nil if the ear can't tell
	LeftOut     []tab.Event        // heard where no harp plays
	Condition   presence.Condition // how hard the recording is; nothing if the ear can't tell
}

// Transcriber turns sound into tab for one harp.
type Transcriber struct {
	harp    harp.Harp
	opt     Options
	learned *ear.Ear // nil: classical
	method  method
	states  []state
}

// NewTranscriber prepares for one harp.
func NewTranscriber(h harp.Harp, opt Options) (*Transcriber, error) {
	t := &Transcriber{harp: h, opt: opt}
	switch opt.Ear {
	case "", "learned":
		e, err := ear.New()
		if err != nil {
			return nil, err
		}
		t.learned, t.method = e, learnedMethod
	case "classical":
		t.method = classicalMethod
	default:
		return nil, fmt.Errorf("unknown ear %q: want learned or classical", opt.Ear)
	}
	t.states = states(h, opt, t.method.priors, t.learned != nil)
	return t, nil
}

// axis of the ears for this harp at a tuning offset in cents.
func (t *Transcriber) axis(cents float64) pitch.Axis {
	a := pitch.Axis{Base: t.harp.Base, Cents: cents}
	mark := func(feature int, act harp.Action) {
		if r := row(t.harp, act); r >= 0 && r < pitch.Rows {
			a.Layout[feature][r] = 1
		}
	}
	for _, act := range t.harp.Actions(true) {
		switch {
		case act.Bend < 0:
			mark(4, act)
		case act.Bend == 0:
			mark(int(act.Breath), act)
		case act.Breath == harp.Draw:
			mark(2, act)
		default:
			mark(3, act)
		}
	}
	return a
}

// hear runs the ear over a clip, twice if the tuning has to be measured and
// turns out to matter.
func (t *Transcriber) hear(c decode.Clip, cents *float64) pitch.Frames {
	return t.hearWindow(windowOf(c), nil, cents)
}

// hearWindow is hear for a window, as far as its frames do not depend on what comes
// after it. What the window before it heard on the same axis is not heard again.
// Strength is the onset strength if it is at hand.
func (t *Transcriber) hearWindow(w *window, strength []float32, cents *float64) pitch.Frames {
	c, known := w.clip(), w.known
	if t.learned == nil {
		listen := t.classical(c, strength)
		if math.IsNaN(*cents) {
			var f pitch.Frames
			f, *cents = t.measured(c, listen)
			return f
		}
		return listen(*cents)
	}
	listen := func(at float64) pitch.Frames { return t.learned.Hear(c.Samples, c.Start, t.axis(at)) }
	reach := t.learned.Reach()
	var f pitch.Frames
	again := max(0, known.N-reach) / dropHops * dropHops // frame from which to hear
	switch {
	case math.IsNaN(*cents):
		f, *cents = t.measured(c, listen)
	case known.N == 0 || known.Axis.Cents != *cents:
		f = listen(*cents)
	default:
		c.Start, c.Samples = c.Start+float64(again)*pitch.HopSeconds, c.Samples[again*pitch.Hop:]
		new := listen(*cents)
		f = known.Then(new.Part(known.N-again, new.N))
	}
	if !w.ended {
		f = f.Part(0, max(0, f.N-reach))
	}
	return f
}

// classical prepares the single-note ear: pitch from probabilistic YIN, begins
// of notes from spectral flux where a row starts to sound and from dips in level.
func (t *Transcriber) classical(c decode.Clip, strength []float32) func(cents float64) pitch.Frames {
	track := pitch.NewTrack(c.Samples, c.Start, t.axis(0))
	if strength == nil {
		strength = onset.Strength(c.Samples, pitch.Rate, pitch.Hop)
	}
	flux := onset.Probability(strength)
	tongued := onset.Tongued(onset.Dips(c.Samples, pitch.Rate, pitch.Hop))
	return func(cents float64) pitch.Frames {
		f := track.Frames(t.axis(cents))
		for i := range f.N {
			before, after := max(0, i-rise), min(f.N-1, i+rise)
			for r := range pitch.Rows {
				f.Attack[i*pitch.Rows+r] = tongued[i]
				if f.Sounding[after*pitch.Rows+r] > f.Sounding[before*pitch.Rows+r]+0.3 {
					f.Attack[i*pitch.Rows+r] = max(tongued[i], flux[i])
				}
			}
		}
		return f
	}
}

// rise is the distance in frames over which a row must have begun to sound for
// the flux to count as its attack.
const rise = 4

// realign is the offset in cents beyond which hearing again on a shifted axis
// gains something.
const realign = 30

// Clip transcribes sound held in memory, mono at pitch.Rate. cents is the
// tuning offset, NaN to measure it.
func (t *Transcriber) Clip(c decode.Clip, cents float64) Result {
	o := newOverview()
	r, _, _ := t.part(windowOf(c), cents, o)
	t.finish(&r, o)
	return r
}

// overview gathers, window by window, what is judged over a section as a whole.
type overview struct {
	pulse pulse
	loud  levels
	how   playings
	who   presence.Track
	past  nearby // what may still be near
}

func newOverview() *overview { return &overview{loud: levels{}, how: playings{}, past: always} }

// finish leaves out what no harp played, and finds phrases, tempo and bars.
func (t *Transcriber) finish(r *Result, o *overview) {
	t.leaveOut(r, o.who.Players(r.Events))
	if r.Stretches != nil {
		r.Condition = o.who.Condition(r.Events, r.LeftOut, r.Stretches)
	}
	o.how.mark(r.Events)
	r.Phrases = phrases(o.loud.withoutStrays(r.Events))
	o.pulse.finish(r, t.opt)
}

// leaveOut leaves out what no harp played. If that would leave nothing it leaves
// all, as doubtful as it is: the harp may be one that sounds like no other.
func (t *Transcriber) leaveOut(r *Result, who presence.Players) {
	r.Stretches = who.Stretches
	var all []tab.Event
	kept := r.Events[:0:0]
	for _, e := range r.Events {
		k, harp := who.Of(e)
		e = believed(e, harp)
		all = append(all, e)
		if k == presence.Harp || k == presence.Voice && t.opt.KeepVoice {
			kept = append(kept, e)
		} else {
			r.LeftOut = append(r.LeftOut, e)
		}
	}
	if r.Events = kept; len(kept) == 0 {
		r.Events, r.LeftOut = all, nil
	}
}

// believed is an event whose readings hold only if a harp plays at all.
func believed(e tab.Event, harp float64) tab.Event {
	e.Confidence *= harp
	e.Alternatives = slices.Clone(e.Alternatives)
	for i := range e.Alternatives {
		e.Alternatives[i].Confidence *= harp
	}
	return e
}

// A gap is told if it is long, or if notes were left out of it.
const (
	leastVoice = 2.0 // seconds
	leastGap   = 8.0
)

// Gaps are the stretches worth telling in which no harp plays.
func (r Result) Gaps() []tab.Gap {
	var out []tab.Gap
	for _, s := range r.Stretches {
		if s.Kind == presence.Harp {
			continue
		}
		g := tab.Gap{Start: max(s.Start, r.From), End: min(s.End, r.To), Voice: s.Kind == presence.Voice}
		for _, e := range r.LeftOut {
			if mid := (e.Start + e.End) / 2; mid >= s.Start && mid < s.End {
				g.LeftOut++
			}
		}
		least := leastGap
		if g.Voice {
			least = leastVoice
		}
		if g.LeftOut > 0 || g.End-g.Start >= least {
			out = append(out, g)
		}
	}
	return out
}

// part finds the events and the tuning of a window of which the ear heard f. Those that
// start where the window before stopped counting, but before cut, count, and are added
// to the overview.
func (t *Transcriber) part(w *window, cents float64, o *overview) (r Result, f pitch.Frames, cut float64) {
	if t.opt.Tuning != nil {
		cents = *t.opt.Tuning
	}
	c := w.clip()
	var strength []float32 // which the classical ear needs
	var wg sync.WaitGroup
	if t.learned == nil {
		strength = o.pulse.add(c)
	} else {
		wg.Go(func() { o.pulse.add(c) })
	}
	listen := func() { o.pulse.listen(c, cents) }
	known := !math.IsNaN(cents)
	if known {
		wg.Go(listen)
	}
	f = t.hearWindow(w, strength, &cents)
	if !known {
		wg.Go(listen)
	}
	events, near := t.events(c, f, o.past)
	events = o.how.joinShakes(t, f, events)
	from := o.past.from
	if cut = math.Inf(1); !w.ended {
		cut = w.joint(f, events)
	}
	o.past = near.until(cut)
	ours := between(events, from, cut)
	o.loud.add(t, f, ours)
	wg.Go(func() { o.how.add(t, c, events, from, cut, cents) })
	wg.Go(func() { o.who.Add(t.harp, f, c, ours) })
	wg.Wait()
	for i := range events { // the last frame reaches beyond the end
		events[i].End = min(events[i].End, w.end())
	}
	return Result{TuningCents: cents, From: w.start, To: w.end(), Events: events}, f, cut
}
