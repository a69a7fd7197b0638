package whichharp

import (
	"context"
	"math"

	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/hearing"
	"blowdraw/tabber/lattice"
)

// thin is every how manieth frame is looked at by the evidence alone.
const thin = 4

// glance is the evidence alone for each harp, in every thin-th frame of what was heard on
// the rows of any harp.
func (r *Ranker) glance(f pitch.Frames, harps []harp.Harp) []Fit {
	few := thinned(f)
	var fits []Fit
	for _, h := range harps {
		reader := r.reader.For(h)
		l := lattice.New(reader.States, onRowsOf(h, few), reader.Method.Weights, nil)
		evidence := (l.Evidence() + r.beyond(h, few)) * thin * pitch.HopSeconds
		fits = append(fits, Fit{Harp: h, Evidence: evidence})
	}
	return fits
}

// lookUp is the fit of each harp to what was heard on the rows of any harp.
func (r *Ranker) lookUp(ctx context.Context, f pitch.Frames, harps []harp.Harp) ([]Fit, error) {
	var fits []Fit
	for _, h := range harps {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		fit := r.fitOf(h, onRowsOf(h, f))
		fit.Evidence += r.beyond(h, f) * pitch.HopSeconds
		fits = append(fits, fit)
	}
	return fits, nil
}

// onRowsOf brings what was heard on the rows of any harp into the rows of another. Rows
// that were not heard are silent, and which breath it is remains open: the ear takes that
// from where the reeds of the harp that it listens for lie.
func onRowsOf(h harp.Harp, f pitch.Frames) pitch.Frames {
	out := f
	out.Axis = hearing.Axis(h, f.Axis.Cents)
	out.Sounding, out.Attack = make([]float32, f.N*pitch.Rows), make([]float32, f.N*pitch.Rows)
	out.Cents, out.Loud = make([]float32, f.N*pitch.Rows), make([]float32, f.N*pitch.Rows)
	up := h.Base - f.Axis.Base
	for k := range out.Sounding {
		row := k%pitch.Rows + up
		if row < 0 || row >= pitch.Rows {
			out.Cents[k], out.Loud[k] = float32(math.NaN()), -120
			continue
		}
		from := k + up
		out.Sounding[k], out.Attack[k] = f.Sounding[from], f.Attack[from]
		out.Cents[k], out.Loud[k] = f.Cents[from], f.Loud[from]
	}
	out.Breath = make([][3]float32, f.N)
	for i, b := range f.Breath {
		either := (b[pitch.Blowing] + b[pitch.Drawing]) / 2
		out.Breath[i] = [3]float32{pitch.NoBreath: b[pitch.NoBreath], pitch.Blowing: either, pitch.Drawing: either}
	}
	return out
}

// beyond is the log weight, over frames, of silence in the rows that a harp's axis lacks,
// as the lattice weighs it in those that it has.
func (r *Ranker) beyond(h harp.Harp, f pitch.Frames) float64 {
	w, sum := r.reader.Method.Weights, 0.0
	for row := range pitch.Rows {
		if own := row + f.Axis.Base - h.Base; own >= 0 && own < pitch.Rows {
			continue
		}
		for i := range f.N {
			p := lattice.Clip(float64(f.Sounding[i*pitch.Rows+row]))
			sum -= w.Sounding * math.Log1p(p/(1-p)*math.Exp(-w.Lean))
		}
	}
	return sum
}

// thinned is every thin-th frame, without what only notes need.
func thinned(f pitch.Frames) pitch.Frames {
	out := pitch.NewFrames(f.Axis, f.Start, (f.N+thin-1)/thin)
	out.Loud = make([]float32, len(out.Sounding))
	for i := range out.N {
		row := func(x []float32) []float32 { return x[i*thin*pitch.Rows:][:pitch.Rows] }
		copy(out.Sounding[i*pitch.Rows:], row(f.Sounding))
		copy(out.Attack[i*pitch.Rows:], row(f.Attack))
		out.Event[i] = f.Event[i*thin]
		out.Breath = append(out.Breath, f.Breath[i*thin])
		out.Count = append(out.Count, f.Count[i*thin])
	}
	return out
}
