package tabber

import (
	"context"
	"math"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/pitch/contour"
)

const (
	heardFrom  = 0.5 // probability from which a reed counts as sounding in a frame
	leastHeard = 3   // frames that it sounds at least
	heardReach = 120 // cents from the reed within which its pitch is followed
)

// Pitches follows what sounds in a recording: all of s, which must have been opened
// at pitch.Rate and begin from seconds into the recording. Element i is heard
// i*pitch.HopSeconds later: fractional MIDI numbers as they sound, lowest first, none
// where no reed does. When the context is done it stops with the context's error.
func (t *Transcriber) Pitches(ctx context.Context, s *decode.Stream, from float64) ([][]float64, error) {
	return t.pitches(ctx, &window{stream: s, start: from, full: windowSeconds * pitch.Rate})
}

func (t *Transcriber) pitches(ctx context.Context, w *window) ([][]float64, error) {
	from := w.start
	cents := math.NaN()
	if t.opt.Tuning != nil {
		cents = *t.opt.Tuning
	}
	var out [][]float64
	for {
		if err := ctx.Err(); err != nil {
			return out, err
		}
		if err := w.fill(); err != nil {
			return out, err
		}
		if t.opt.Progress != nil {
			t.opt.Progress(w.end() - from)
		}
		f := t.hearWindow(w, nil, &cents)
		heard := follow(w.clip(), f)
		if !w.ended { // the end wants to be heard with what follows
			heard = heard[:max(0, len(heard)-int(math.Round(jointSeconds/pitch.HopSeconds)))]
		}
		known := len(out) - int(math.Round((w.start-from)/pitch.HopSeconds))
		out = append(out, heard[min(known, len(heard)):]...)
		if w.ended {
			return out, nil
		}
		w.drop(f.Time(f.N)-2*jointSeconds, f)
	}
}

// follow the reeds that sound in a clip, each as long as it does.
func follow(c decode.Clip, f pitch.Frames) [][]float64 {
	a := contour.NewAnalyzer()
	out := make([][]float64, f.N)
	for r := range pitch.Rows {
		for i := 0; i < f.N; i++ {
			from := i
			for i < f.N && f.Sounding[i*pitch.Rows+r] >= heardFrom {
				i++
			}
			if i-from < leastHeard {
				continue
			}
			n := contour.Note{Hz: f.Axis.Hz(float64(r)), Others: others(f, r, from, i), Low: -heardReach, High: heardReach}
			line := a.Spectra(c.Samples, from, i).Follow(n)
			for k, cents := range line.Cents {
				midi := float64(f.Axis.Base+r-pitch.RowBelow) + (f.Axis.Cents+cents)/100
				out[from+k] = append(out[from+k], midi)
			}
		}
	}
	return out
}

// others are the frequencies of what sounds with row r through most of some frames.
func others(f pitch.Frames, r, from, to int) []float64 {
	var out []float64
	for o := range pitch.Rows {
		n := 0
		for i := from; i < to; i++ {
			if f.Sounding[i*pitch.Rows+o] >= heardFrom {
				n++
			}
		}
		if o != r && 2*n > to-from {
			out = append(out, f.Axis.Hz(float64(o)))
		}
	}
	return out
}
