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
// its README the data, hardware and scores. The tests compare features and outputs
// with those of that program.
//
// The axis moves with the harp and its tuning, so that the network learns reeds and
// not keys. The harp's layout enters as five features of 0 or 1 a row (blow, draw,
// draw bend, blow bend, overbend), so that other layouts need no training.
//
// The stages (spectra, each layer, outputs) are a pipeline over windows of 96 steps, and
// share their rows among processors. No sum depends on who made which part of it: what
// is heard is the same on any number of processors.
//
// Its sums are vector code on amd64 processors with AVX2 and FMA and on all of arm64 (NEON),
// which give the same bits; others run plain Go many times slower, which rounds otherwise.
package ear

import (
	"fmt"
	"math"

	"blowdraw/decode/parallel"
	"blowdraw/pitch"
)

// Ear is a loaded reed model, safe for concurrent use.
type Ear struct{ net *network }

// New loads the embedded model.
func New() (*Ear, error) {
	w, err := parse(embedded)
	if err != nil {
		return nil, fmt.Errorf("loading the embedded reed model: %w", err)
	}
	return &Ear{newNetwork(w)}, nil
}

// windowSteps is how many steps go through the network at once, a multiple of
// block and of so many frames as are analysed together.
const windowSteps = 24

// Hear analyses samples (mono at pitch.Rate, full scale 1) that begin start
// seconds into the recording.
func (e *Ear) Hear(samples []float64, start float64, axis pitch.Axis) pitch.Frames {
	f := e.hear(samples, start, axis, windowSteps)
	pool(f.Attack, pitch.Rows)
	pool(f.Event, 1)
	return f
}

// Reach is how many frames away a sample may lie that a frame still depends on.
func (e *Ear) Reach() int {
	spectrum := (windowSizes[0]/2 + pitch.Hop - 1) / pitch.Hop
	return (e.net.lag()+1)*e.net.stride + spectrum + 1 // and that attacks are pooled
}

// hear is Hear in windows of width steps, before attacks are pooled.
func (e *Ear) hear(samples []float64, start float64, axis pitch.Axis, width int) pitch.Frames {
	n := len(samples)/pitch.Hop + 1
	f := pitch.NewFrames(axis, start, n)
	f.Breath, f.Count = make([][3]float32, n), make([][4]float32, n)
	f.Loud = make([]float32, n*pitch.Rows)
	f.Whole = make([][]float32, n)
	h := newHearing(e.net, samples, &f, width)
	pipeline(h.windows(), h.atOnce, h.stages())
	return f
}

// hearing is one run over a recording.
type hearing struct {
	*stream
	atOnce   int // windows under way
	samples  []float64
	out      *pitch.Frames
	analyzer *analyzer
	frames   []*frames   // scratch of each worker
	power    [][]float32 // of the long window, of the frames not told yet: frame i at i % len
}

func newHearing(n *network, samples []float64, out *pitch.Frames, width int) *hearing {
	total, windows := (out.N+n.stride-1)/n.stride, 1
	if parallel.Workers() > 1 {
		windows = atOnce
	}
	h := &hearing{
		stream: newStream(n, &out.Axis.Layout, total, width), atOnce: windows, samples: samples, out: out,
		analyzer: newAnalyzer(out.Axis), power: make([][]float32, (windows*width+n.lag())*n.stride),
	}
	h.frames = make([]*frames, h.workers)
	for i := range h.power {
		h.power[i] = make([]float32, windowSizes[0]/2+1)
	}
	return h
}

// stages of a window: spectra, network, probabilities.
func (h *hearing) stages() []func(k int) {
	inner, lag := h.stream.stages()
	scratch := h.scratch()
	all := append([]func(k int){h.listen}, inner...)
	return append(all, func(k int) {
		h.heads(scratch, k*h.width-lag)
		h.tell(k*h.width - lag - 1)
	})
}

// listen fills the new columns of the network's input with window k.
func (h *hearing) listen(k int) {
	for _, x := range h.in {
		x.slide()
	}
	at := k * h.width
	lo, hi := h.span(at)
	stride := h.net.stride
	parallel.On(h.workers, (hi*stride+batch-1)/batch, func(worker, i int) {
		if h.frames[worker] == nil {
			h.frames[worker] = newFrames()
		}
		f, first := h.frames[worker], at*stride+i*batch
		h.analyzer.analyse(f, h.samples, first*pitch.Hop)
		h.enter(f, i*batch)
		h.note(f, first)
	})
	for _, x := range h.in {
		x.keep(lo, hi)
	}
}

// enter puts a batch of frames into the input; column counts frames of the window.
func (h *hearing) enter(f *frames, column int) {
	for ch := range inChannels {
		n := 0 // bins below half the rate
		for n < inBins && !h.analyzer.bands[ch][n].silent {
			n++
		}
		scale(f.scaled[:n], f.bands[ch][:n])
		for phase, x := range h.in {
			for b := range n {
				row := x.row(ch, b)[x.past+column/len(h.in):][:batch/len(h.in)]
				for i := range row {
					row[i] = f.scaled[b][phase+i*len(h.in)]
				}
			}
		}
	}
}

// note keeps what is told of the frames from first on beside the network's outputs.
func (h *hearing) note(f *frames, first int) {
	for i := range min(batch, h.out.N-first) {
		h.out.Level[first+i] = float32(10 * math.Log10(f.level[i]+1e-12))
		copy(h.power[(first+i)%len(h.power)], f.power[i])
		for r := range pitch.Rows {
			h.out.Loud[(first+i)*pitch.Rows+r] = loudness(f, i, r)
		}
	}
}

// loudness is the power of a row's partials 1 to 7 within half a semitone, in
// the short window of frame i.
func loudness(f *frames, i, r int) float32 {
	sum := 0.0
	for h := 1; h < len(harmonics); h++ {
		for b := range binsPerRow {
			sum += f.bands[len(harmonics)+h][binsPerRow*r+b][i] + floor
		}
	}
	return float32(sum)
}

// tell turns the logits of a window that begins with step into probabilities,
// and measures the rows that sound.
func (h *hearing) tell(step int) {
	lo, hi := h.span(step)
	stride := h.net.stride
	parallel.On(h.workers, hi-lo, func(_, j int) {
		whole := make([]float32, globalWide) // frames of a step share it
		for k := range whole {
			whole[k] = h.wide.row(k, 0)[lo+j]
		}
		for s := range stride {
			if i := (step+lo+j)*stride + s; i < h.out.N {
				h.out.Whole[i] = whole
				h.tellFrame(i, lo+j, s)
			}
		}
	})
}

// tellFrame tells frame i, part s of the step in column j.
func (h *hearing) tellFrame(i, j, s int) {
	f := h.out
	v := func(k int) float32 { return h.whole.row(s*perFrame+k, 0)[j] }
	for k := range f.Breath[i] {
		f.Breath[i][k] = v(k)
	}
	for k := range f.Count[i] {
		f.Count[i][k] = v(len(f.Breath[i]) + k)
	}
	softmax(f.Breath[i][:])
	softmax(f.Count[i][:])
	f.Event[i] = sigmoid(v(7))
	for r := range pitch.Rows {
		k := i*pitch.Rows + r
		f.Sounding[k] = sigmoid(h.row.row(2*s, r)[j] + v(8+r))
		f.Attack[k] = sigmoid(h.row.row(2*s+1, r)[j] + v(8+pitch.Rows+r))
		f.Cents[k] = float32(math.NaN())
		if f.Sounding[k] > 0.3 {
			f.Cents[k] = float32(pitch.Deviation(h.power[i%len(h.power)], windowSizes[0], f.Axis.Hz(float64(r))))
		}
		if f.Sounding[k] > 0.05 {
			f.Loud[k] = float32(10 * math.Log10(float64(f.Loud[k])+1e-12))
		} else {
			f.Loud[k] = -120
		}
	}
}

// pool sums what the network says of attacks, [frame][width], over three frames:
// it is trained to say 1 where a note begins and 1/2 beside it.
func pool(p []float32, width int) {
	before := make([]float32, width)
	for i := range p {
		here, sum := p[i], p[i]+before[i%width]
		if i+width < len(p) {
			sum += p[i+width]
		}
		p[i], before[i%width] = min(1, sum/2), here
	}
}
