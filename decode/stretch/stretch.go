// Package stretch makes sound slower or faster without changing its pitch, and
// moves its pitch without changing its length.
//
// The method is waveform-similarity overlap-add (Verhelst & Roelands 1993, "An
// overlap-add technique based on waveform similarity (WSOLA) for high quality
// time-scale modification of speech", ICASSP). The output is a sum of windowed
// frames of the input, 50 ms long and 25 ms apart. Where a frame is taken from
// may differ a little from where it is due, so that it goes on from the frame
// before as smoothly as the sound allows.
//
// Slowed down like that, an attack would sound twice or be smeared. So the places
// where the level jumps or drops are found first, and around each the input is
// played as it is, at its due time within 2.5 ms: what comes before is taken from
// before it only, and what follows from after it.
package stretch

import (
	"math"

	"blowdraw/decode/resample"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Slowest and Fastest are the limits of the speed.
const (
	Slowest = 0.25
	Fastest = 4.0
)

const (
	hopTime   = 0.025 // s, between frames of the output; a frame is twice as long
	searchWay = 0.018 // s, that a frame may lie off its due place, either way
	anchorWay = 0.002 // s, the same where the level jumps
	riseTime  = 0.020 // s, before the middle of an attack, that belong to it
	nearer    = 0.05  // what the likeness at the farthest place counts less
)

// Stretch plays channels of equal length, at rate samples a second, at a speed of
// [Slowest] to [Fastest] (0.5: half as fast) and cents higher. The result has
// round(length/speed) samples a channel. All channels are cut at the same places.
func Stretch(channels [][]float64, rate int, speed, cents float64) [][]float64 {
	if len(channels) == 0 {
		return nil
	}
	n := int(math.Round(float64(len(channels[0])) / speed))
	higher := math.Pow(2, cents/1200)
	out := make([][]float64, len(channels))
	if speed == higher {
		copy(out, channels)
	} else {
		w := newWeaver(channels, rate, speed/higher)
		places := w.places()
		for c := range channels {
			out[c] = w.weave(channels[c], places)
		}
	}
	for c := range out {
		out[c] = exactly(sharpen(out[c], higher), n)
	}
	return out
}

// sharpen resamples so that everything sounds higher by the factor, and sooner.
func sharpen(x []float64, factor float64) []float64 {
	const steps = 100_000 // of the ratio; 0.02 cents
	from := int(math.Round(steps * factor))
	if from == steps {
		return x
	}
	out, err := resample.Convert(x, from, steps)
	if err != nil {
		panic(err) // a factor that is no positive number
	}
	return out
}

// exactly makes a copy of n samples.
func exactly(x []float64, n int) []float64 {
	out := make([]float64, n)
	copy(out, x)
	return out
}

// weaver finds where the frames of the output are to be taken from. Positions
// are centres of frames, in samples.
type weaver struct {
	x        []float64 // mean of the channels
	speed    float64
	n        int // length of the output
	hop      int
	way      int   // that a free frame may lie off its due place
	nearWay  int   // the same of one fixed by an anchor
	rise     int   // from where an attack may begin to its anchor
	anchors  []int // in the input
	fft      *fourier.FFT
	a, b     []float64
	fa, fb   []complex128
	anchorAt map[int]int // frame of the output to the anchor that it is fixed by
}

func newWeaver(channels [][]float64, rate int, speed float64) *weaver {
	w := &weaver{x: make([]float64, len(channels[0])), speed: speed}
	for _, c := range channels {
		for i, v := range c {
			w.x[i] += v / float64(len(channels))
		}
	}
	w.n = int(math.Round(float64(len(w.x)) / speed))
	w.hop = max(8, int(hopTime*float64(rate)))
	w.way, w.nearWay = int(searchWay*float64(rate)), int(anchorWay*float64(rate))
	w.rise = int(riseTime * float64(rate))
	size := 1
	for size < 2*w.hop+2*w.way+1 {
		size *= 2
	}
	w.fft = fourier.NewFFT(size)
	w.a, w.b = make([]float64, size), make([]float64, size)
	w.fa, w.fb = make([]complex128, size/2+1), make([]complex128, size/2+1)
	apart := max(2*w.hop+w.way, int(3*float64(w.hop)*speed))
	w.anchors = withEnds(jumps(w.x, rate, apart), len(w.x), apart)
	w.anchorAt = map[int]int{}
	for _, a := range w.anchors {
		k := int(float64(a) / speed / float64(w.hop))
		w.anchorAt[k], w.anchorAt[k+1] = a, a
	}
	return w
}

// withEnds adds both ends of the input to the anchors where none is near.
func withEnds(anchors []int, n, apart int) []int {
	if len(anchors) == 0 || anchors[0] >= apart {
		anchors = append([]int{0}, anchors...)
	}
	if anchors[len(anchors)-1] <= n-apart {
		anchors = append(anchors, n)
	}
	return anchors
}

// frames of the output, the first centred on its first sample.
func (w *weaver) frames() int { return w.n/w.hop + 2 }

// places are the centres, in the input, of the frames of the output.
func (w *weaver) places() []int {
	out := make([]int, w.frames())
	next := 0 // anchor after the frame
	past := 0
	for k := range out {
		due := int(math.Round(float64(k*w.hop) * w.speed))
		anchor, fixed := w.anchorAt[k]
		switch {
		case !fixed && k == 0:
			continue // due at 0
		case !fixed:
			lo, hi := w.reach(due, past, w.anchors[min(next, len(w.anchors)-1)])
			out[k] = w.likest(out[k-1], lo, hi)
			continue
		}
		for next < len(w.anchors)-1 && w.anchors[next] <= anchor {
			next++
		}
		past = anchor
		at := anchor + k*w.hop - int(math.Round(float64(anchor)/w.speed))
		switch before, same := w.anchorAt[k-1]; {
		case k == 0:
			out[k] = at
		case same && before == anchor:
			out[k] = out[k-1] + w.hop
		default:
			out[k] = w.likest(out[k-1], at-w.nearWay, at+w.nearWay)
		}
	}
	return out
}

// reach is where a free frame that is due at a place may be taken from: it holds
// neither the anchor before nor the one after it, if there is room between them.
func (w *weaver) reach(due, past, next int) (lo, hi int) {
	lo, hi = due-w.way, due+w.way
	least, most := past+w.hop, next-w.hop-w.rise
	if most-least < w.way {
		return lo, hi
	}
	if lo < least {
		lo, hi = least, max(hi, least+w.way)
	}
	if hi > most {
		lo, hi = max(min(lo, most-w.way), least), most
	}
	return lo, hi
}

// likest is the place from lo to hi whose frame is most like what follows the
// frame at before: the greatest normalised cross-correlation, where those off the
// middle count a little less: of two periods of one tone the nearer is taken.
func (w *weaver) likest(before, lo, hi int) int {
	hi = min(hi, lo+len(w.a)-2*w.hop-1)
	frame := 2 * w.hop
	clear(w.a)
	clear(w.b)
	w.cut(w.a[:frame], before)
	span := frame + hi - lo
	w.cut(w.b[:span], lo-w.hop)
	w.fft.Coefficients(w.fa, w.a)
	w.fft.Coefficients(w.fb, w.b)
	for i := range w.fa {
		w.fb[i] *= complex(real(w.fa[i]), -imag(w.fa[i]))
	}
	power := 0.0
	for _, v := range w.b[:frame] {
		power += v * v
	}
	match := w.fft.Sequence(w.a, w.fb)
	mid, half := (lo+hi)/2, max(1, float64(hi-lo)/2)
	best, top := mid, 0.0
	for p := lo; p <= hi; p++ {
		i := p - lo
		off := float64(p-mid) / half
		score := match[i] / math.Sqrt(max(power, 0)+1e-9) * (1 - nearer*off*off)
		if score > top {
			best, top = p, score
		}
		if i+frame < span {
			power += w.b[i+frame]*w.b[i+frame] - w.b[i]*w.b[i]
		}
	}
	return best
}

// cut copies the input from a sample on; outside it is silent.
func (w *weaver) cut(dst []float64, from int) {
	for i := range dst {
		if j := from + i; j >= 0 && j < len(w.x) {
			dst[i] = w.x[j]
		}
	}
}

// weave adds up the frames of one channel under Hann windows, which sum to one.
func (w *weaver) weave(x []float64, places []int) []float64 {
	out := make([]float64, w.n)
	for k, p := range places {
		for i := -w.hop; i < w.hop; i++ {
			to, from := k*w.hop+i, p+i
			if to < 0 || to >= len(out) || from < 0 || from >= len(x) {
				continue
			}
			c := math.Cos(math.Pi / 2 * float64(i) / float64(w.hop))
			out[to] += c * c * x[from]
		}
	}
	return out
}

func abs(x int) int { return max(x, -x) }
