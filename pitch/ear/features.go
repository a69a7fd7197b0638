package ear

import (
	"math"

	"blowdraw/decode/fft"
	"blowdraw/pitch"
)

// Shape of the network's input: channels are two windows times eight
// harmonics, bins are three to a semitone row.
const (
	binsPerRow = 3
	inBins     = pitch.Rows * binsPerRow
	inChannels = 16
)

// batch is the number of frames analysed together, hop samples apart.
const batch = fft.Signals

// The windows are Hann windows of so many samples, a long one that parts reeds and a
// short one that hears when they begin. The bins of the harmonics of a pitch lie beside
// one another, one channel each.
var (
	windowSizes = [2]int{4096, 1024}
	harmonics   = [8]float64{0.5, 1, 2, 3, 4, 5, 6, 7}
)

// spectrumBand is the stretch of a spectrum that one input bin integrates, as
// positions on the cumulative power (bin k covers [k, k+1) there).
type spectrumBand struct {
	lo, hi         int
	loFrac, hiFrac float64
	silent         bool // reaches above half the rate
}

// analyzer computes the network's input for one axis: for each window, each
// harmonic h and each bin the power within 1/72 octave (at least half an FFT
// bin) of h times the bin's frequency, on a logarithmic scale.
type analyzer struct {
	windows [2][]float32
	scale   [2]float32
	plan    [2]*fft.Plan
	bands   [inChannels][inBins]spectrumBand
}

// frames is what the analysis of a batch works with and gives.
type frames struct {
	samples [(batch-1)*pitch.Hop + 4096]float32
	points  [2][]fft.Point
	powers  []fft.Real
	cum     []totals
	bands   [inChannels][inBins]totals // power
	scaled  [inBins][batch]float32     // of one channel, on the network's scale

	power [batch][]float32 // of each frame's long window
	level totals           // mean power of the short window's samples
}

// totals has one value for each frame of a batch.
type totals [batch]float64

func newAnalyzer(axis pitch.Axis) *analyzer {
	a := &analyzer{}
	for w, size := range windowSizes {
		sum := 0.0
		for _, v := range fft.Hann(size) {
			a.windows[w] = append(a.windows[w], float32(v))
			sum += v
		}
		a.scale[w] = float32(4 / (sum * sum))
		a.plan[w] = fft.NewPlan(size)
		for i, h := range harmonics {
			for b := range inBins {
				row := float64(b/binsPerRow) + float64(b%binsPerRow-1)/binsPerRow
				a.bands[w*len(harmonics)+i][b] = bandAround(axis.Hz(row)*h, size)
			}
		}
	}
	return a
}

func newFrames() *frames {
	f := &frames{cum: make([]totals, windowSizes[0]/2+2), powers: make([]fft.Real, windowSizes[0]/2+1)}
	for i := range f.points {
		f.points[i] = make([]fft.Point, windowSizes[0]/2)
	}
	for i := range f.power {
		f.power[i] = make([]float32, windowSizes[0]/2+1)
	}
	return f
}

func bandAround(hz float64, size int) spectrumBand {
	x := hz / pitch.Rate * float64(size)
	d := math.Max(x*(math.Exp2(1.0/72)-1), 0.5)
	if x+d > float64(size)/2 {
		return spectrumBand{silent: true}
	}
	top := float64(size/2 + 1)
	lo := math.Max(x-d+0.5, 0)
	hi := math.Min(x+d+0.5, top)
	b := spectrumBand{lo: int(lo), hi: int(hi)}
	b.loFrac, b.hiFrac = lo-float64(b.lo), hi-float64(b.hi)
	return b
}

// analyse fills f with the batch of frames of x (zeros outside) of which the
// first is centred on sample at.
func (a *analyzer) analyse(f *frames, x []float64, at int) {
	f.load(x, at-windowSizes[0]/2)
	for w, size := range windowSizes {
		points := f.points[0][:size/2]
		fft.Windowed(points, f.samples[(windowSizes[0]-size)/2:], pitch.Hop, a.windows[w])
		if w == 1 {
			f.level = meanPower(points)
		}
		powers := f.powers[:size/2+1]
		a.plan[w].Powers(powers, points, f.points[1], a.scale[w])
		f.accumulate(powers, w == 0)
		for ch := range harmonics {
			ch += w * len(harmonics)
			for b := range inBins {
				a.bands[ch][b].power(&f.bands[ch][b], f.cum[:size/2+2])
			}
		}
	}
}

// load copies the samples from x[first] on.
func (f *frames) load(x []float64, first int) {
	clear(f.samples[:])
	for i := max(0, -first); i < min(len(f.samples), len(x)-first); i++ {
		f.samples[i] = float32(x[first+i])
	}
}

// meanPower of samples under a Hann window, as if without it.
func meanPower(points []fft.Point) (level totals) {
	for k := range points {
		for i, v := range points[k] {
			level[i%batch] += float64(v * v)
		}
	}
	for i := range level {
		level[i] /= float64(2*len(points)) * 3 / 8
	}
	return level
}

// accumulate fills cum from power spectra, and power if it is asked for.
func (f *frames) accumulate(powers []fft.Real, power bool) {
	var sum totals
	for k := range powers {
		f.cum[k] = sum
		for i, v := range powers[k] {
			sum[i] += float64(v)
		}
	}
	f.cum[len(powers)] = sum
	if !power {
		return
	}
	for i, p := range f.power {
		for k := range p {
			p[k] = powers[k][i]
		}
	}
}

// power sets p to the power of each frame in the band.
func (b *spectrumBand) power(p *totals, cum []totals) {
	if b.silent {
		return
	}
	lo, hi := &cum[b.lo], &cum[b.hi]
	lo1, hi1 := &cum[min(b.lo+1, len(cum)-1)], &cum[min(b.hi+1, len(cum)-1)]
	for i := range p {
		p[i] = hi[i] - lo[i] + b.hiFrac*(hi1[i]-hi[i]) - b.loFrac*(lo1[i]-lo[i])
	}
}

// scalePlain is scale without vector instructions.
func scalePlain(dst [][batch]float32, src []totals) {
	for b := range src {
		for i, p := range src[b] {
			dst[b][i] = scaled(p)
		}
	}
}

// floor is the power that the network's scale takes as silence, 0 on it; 1 is
// ten thousand times more.
const floor = 1e-9

// scaled is a power on the network's scale, (log10(p + floor) + 9) / 4; rounding may
// make it less than 0.
func scaled(p float64) float32 {
	return float32(log2(max(p, 0)/floor+1) * (math.Ln2 / math.Ln10 / 4))
}

// log2 of a finite x of at least 1, within 1e-7: atanh's series around each
// power of two, log(m) = 2 (s + s^3/3 + s^5/5 ...) with s = (m-1)/(m+1).
func log2(x float64) float64 {
	const c = 2 / math.Ln2
	bits := math.Float64bits(x)
	e := (bits - math.Float64bits(math.Sqrt2/2)) >> 52 // so that m lies around 1
	m := math.Float64frombits(bits - e<<52)
	s := (m - 1) / (m + 1)
	q := s * s
	return float64(int64(e)) + s*(c+q*(c/3+q*(c/5+q*(c/7))))
}
