package tabber

import (
	"math"
	"slices"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// Fit is how well a recording fits a harp: what to compare harps by.
type Fit struct {
	Harp     harp.Harp
	Evidence float64 // log likelihood of what the ear says, given the likeliest state of every frame, times the seconds of a frame
	Sounding float64 // seconds in which notes sound
	Strange  float64 // seconds of these in which the note is not on the harp
	Shift    float64 // cents by which the rows were shifted
	Tuning   Tuning
	Events   []tab.Event // the likeliest, without confidence and alternatives
}

// For is the same transcriber for another harp.
func (t *Transcriber) For(h harp.Harp) *Transcriber {
	other := *t
	other.harp = h
	other.states = states(h, t.opt, t.method.priors, t.learned != nil)
	return &other
}

// Fit listens to a clip on the rows of the transcriber's harp, shifted by cents,
// about what the recording is off concert pitch.
func (t *Transcriber) Fit(c decode.Clip, cents float64) Fit {
	f := t.hear(c, &cents)
	out := Fit{Harp: t.harp, Shift: cents, Tuning: t.measureTuning(f)}
	l := newLattice(t.states, f, t.method.weights)
	out.Evidence = l.evidence() * pitch.HopSeconds
	for _, s := range t.spans(l, f) {
		st := t.states[s.state]
		e := tab.Event{Start: f.Time(s.from), End: f.Time(s.to), Actions: st.actions, Texture: tab.Texture(st.actions)}
		for _, r := range st.rows {
			e.Pitches = append(e.Pitches, measured(f, r, s))
		}
		out.Sounding += e.End - e.Start
		if len(st.actions) == 0 {
			out.Strange += e.End - e.Start
		}
		out.Events = append(out.Events, e)
	}
	return out
}

// evidence sums over frames the log weight of the state that explains each best
// by itself.
func (l *lattice) evidence() float64 {
	sum := 0.0
	for i := range l.frames.N {
		l.score(i)
		top := math.Inf(-1)
		for _, e := range l.emit {
			top = max(top, e)
		}
		sum += top
	}
	return sum
}

// Activity is how likely a reed sounds in each frame of a clip, as heard on the
// rows of the transcriber's harp, shifted by cents.
func (t *Transcriber) Activity(c decode.Clip, cents float64) []float64 {
	f := t.hear(c, &cents)
	out := make([]float64, f.N)
	for i := range out {
		out[i] = float64(slices.Max(f.Sounding[i*pitch.Rows : (i+1)*pitch.Rows]))
	}
	return out
}
