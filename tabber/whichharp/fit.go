package whichharp

import (
	"slices"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/hearing"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/tab"
)

// Fit is how well a recording fits a harp: what to compare harps by.
type Fit struct {
	Harp     harp.Harp
	Evidence float64 // log likelihood of what the ear says, given the likeliest state of every frame, times the seconds of a frame
	Sounding float64 // seconds in which notes sound
	Strange  float64 // seconds of these in which the note is not on the harp
	Shift    float64 // cents by which the rows were shifted
	Tuning   hearing.Tuning
	Events   []tab.Event // the likeliest, without confidence and alternatives
}

// fit listens to a clip on the rows of a harp, shifted by cents, about what the recording
// is off concert pitch.
func (r *Ranker) fit(c decode.Clip, cents float64, h harp.Harp) Fit {
	return r.fitOf(h, r.ear.Listener(h, c)(cents))
}

// fitOf is the fit of what an ear heard on the rows of a harp.
func (r *Ranker) fitOf(h harp.Harp, f pitch.Frames) Fit {
	out := Fit{Harp: h, Shift: f.Axis.Cents, Tuning: hearing.MeasureTuning(h, f)}
	reader := r.reader.For(h)
	l := lattice.New(reader.States, f, reader.Method.Weights, nil)
	spans, evidence := l.Explained()
	out.Evidence = evidence * pitch.HopSeconds
	for _, s := range reader.Bordered(f, spans) {
		e := reader.Bare(f, s)
		out.Sounding += e.End - e.Start
		if len(e.Actions) == 0 {
			out.Strange += e.End - e.Start
		}
		out.Events = append(out.Events, e)
	}
	return out
}

// activity is how likely a reed sounds in each frame.
func activity(f pitch.Frames) []float64 {
	out := make([]float64, f.N)
	for i := range out {
		out[i] = float64(slices.Max(f.Sounding[i*pitch.Rows : (i+1)*pitch.Rows]))
	}
	return out
}
