// Package ear hears reeds with a small convolutional network whose frequency
// axis is aligned to the harp at hand: 40 rows, one a semitone, from one below
// hole 1 blow. Every 11.6 ms it tells for each row how likely a reed of that
// pitch sounds and begins, and for the whole how likely breath, number of reeds
// and the begin of a note are.
//
// The input is a harmonic stack of spectra like the one of Bittner et al.
// (2017), "Deep salience representations for f0 estimation in polyphonic
// music", with a short window beside the long one. The network was trained on
// synthesized harp over synthesized bands; folder train has the program, and
// its README the data, hardware and scores.
package ear

import (
	"fmt"
	"math"

	"blowdraw/pitch"
)

// Ear is a loaded reed model, safe for concurrent use.
type Ear struct{ net *network }

// New loads the embedded model.
func New() (*Ear, error) {
	n, err := parse(embedded)
	if err != nil {
		return nil, fmt.Errorf("loading the embedded reed model: %w", err)
	}
	return &Ear{n}, nil
}

// blockFrames is how many frames go through the network at once.
const blockFrames = 1024

// Hear analyses samples (mono at pitch.Rate, full scale 1) that begin start
// seconds into the recording.
func (e *Ear) Hear(samples []float64, start float64, axis pitch.Axis) pitch.Frames {
	return e.hear(samples, start, axis, blockFrames)
}

// hear is Hear in blocks of size frames, a multiple of the stride.
func (e *Ear) hear(samples []float64, start float64, axis pitch.Axis, size int) pitch.Frames {
	n := len(samples)/pitch.Hop + 1
	f := pitch.NewFrames(axis, start, n)
	f.Breath, f.Count = make([][3]float32, n), make([][4]float32, n)
	f.Loud = make([]float32, n*pitch.Rows)
	a := newAnalyzer(axis)
	reach := (e.net.reach() + 1) &^ 1
	for first := 0; first < n; first += size {
		last := min(first+size, n)
		lo, hi := max(first-reach, 0), min(last+reach, n)
		e.block(a, samples, &f, lo, hi, first, last)
	}
	return f
}

// block hears frames [lo, hi) and keeps [first, last) of them.
func (e *Ear) block(a *analyzer, samples []float64, f *pitch.Frames, lo, hi, first, last int) {
	steps := (hi - lo + e.net.stride - 1) / e.net.stride
	in := make([]*tensor, e.net.stride)
	for p := range in {
		in[p] = newTensor(inChannels, inBins, steps)
	}
	powers := make([][]float32, hi-lo)
	for i := lo; i < lo+steps*e.net.stride; i++ {
		x, t := in[(i-lo)%e.net.stride], (i-lo)/e.net.stride
		level := a.spectra(samples, i*pitch.Hop)
		for ch := range inChannels {
			cum := a.cum[ch/len(harmonics)]
			for b := range inBins {
				x.data[(ch*inBins+b)*x.step+margin+t] = a.bands[ch][b].value(cum)
			}
		}
		if i >= first && i < last {
			f.Level[i] = float32(10 * math.Log10(level+1e-12))
			powers[i-lo] = narrow(a.power)
		}
	}
	out := e.net.forward(in, &f.Axis.Layout)
	copyFrames(f, out, lo, first, last)
	for i := first; i < last; i++ {
		for r := range pitch.Rows {
			k := i*pitch.Rows + r
			f.Cents[k] = float32(math.NaN())
			if f.Sounding[k] > 0.3 {
				f.Cents[k] = float32(pitch.Deviation(powers[i-lo], windowSizes[0], f.Axis.Hz(float64(r))))
			}
			f.Loud[k] = -120
			if f.Sounding[k] > 0.05 {
				f.Loud[k] = loudness(in[(i-lo)%len(in)], (i-lo)/len(in), r)
			}
		}
	}
}

// loudness in dB of a row's partials 1 to 7 within half a semitone, from the
// short window's part of the input.
func loudness(in *tensor, t, r int) float32 {
	sum := 0.0
	for h := 1; h < len(harmonics); h++ {
		for b := range binsPerRow {
			v := in.row(len(harmonics)+h, binsPerRow*r+b)[t]
			sum += math.Pow(10, 4*float64(v)-9)
		}
	}
	return float32(10 * math.Log10(sum+1e-12))
}

func copyFrames(f *pitch.Frames, out outputs, lo, first, last int) {
	a, b := first-lo, last-lo
	copy(f.Sounding[first*pitch.Rows:last*pitch.Rows], out.sounding[a*pitch.Rows:b*pitch.Rows])
	for i := a; i < b; i++ {
		for r := range pitch.Rows {
			f.Attack[(lo+i)*pitch.Rows+r] = pooled(out.attack, i, r, pitch.Rows)
		}
		f.Event[lo+i] = pooled(out.event, i, 0, 1)
	}
	copy(f.Breath[first:last], out.breath[a:b])
	copy(f.Count[first:last], out.count[a:b])
}

// pooled sums what the network says of an attack over three frames: it is
// trained to say 1 where a note begins and 1/2 beside it.
func pooled(p []float32, i, r, width int) float32 {
	sum := p[i*width+r]
	if i > 0 {
		sum += p[(i-1)*width+r]
	}
	if (i+1)*width+r < len(p) {
		sum += p[(i+1)*width+r]
	}
	return min(1, sum/2)
}

func narrow(x []float64) []float32 {
	y := make([]float32, len(x))
	for i, v := range x {
		y[i] = float32(v)
	}
	return y
}
