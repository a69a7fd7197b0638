package pitch

import (
	"math"

	"blowdraw/decode/fft"

	"gonum.org/v1/gonum/dsp/window"
)

const (
	offsetSize   = 8192 // samples, 0.37 s
	offsetStep   = 4096
	offsetLowest = 80   // Hz
	offsetTop    = 2000 // Hz
	offsetFloor  = 1e-4 // of a frame's strongest peak, in power
	offsetReach  = 25.0 // cents around the commonest deviation that count
	offsetGroups = 8    // stretches that are compared for the error
)

// Offset estimates by how many cents all that sounds in samples at Rate, harp
// and band alike, is off A4 = 440 Hz: within ±50, with its standard error. Peaks
// of long spectra are taken to the nearest equal-tempered semitone; the commonest
// deviation is refined by the mean around it, so that bends and vibrato, which
// spread, count little. The error is that of the means of eight stretches. NaN
// without peaks.
func Offset(samples []float64) (cents, err float64) {
	all := make([]float64, 100) // weight of each deviation, a cent wide, on a circle
	var groups [offsetGroups][]float64
	frames := max(1, (len(samples)-offsetSize)/offsetStep+1)
	hann := make([]float64, offsetSize)
	for i := range hann {
		hann[i] = 1
	}
	fft.NewFrames(window.Hann(hann), offsetStep).Each(samples, 0, frames, func(i int, power []float32) {
		g := &groups[i*offsetGroups/frames]
		if *g == nil {
			*g = make([]float64, 100)
		}
		for _, p := range strongPeaks(power) {
			all[p.cent] += p.weight
			(*g)[p.cent] += p.weight
		}
	})
	mode := commonest(all)
	cents = meanAround(all, mode)
	sum, squares, n := 0.0, 0.0, 0.0
	for _, g := range groups {
		if d := meanAround(g, mode) - cents; !math.IsNaN(d) {
			sum, squares, n = sum+d, squares+d*d, n+1
		}
	}
	if n < 2 {
		return wrapCents(cents), 50 / math.Sqrt(12)
	}
	return wrapCents(cents), math.Sqrt((squares - sum*sum/n) / (n - 1) / n)
}

type peak struct {
	cent   int // deviation from the nearest semitone, 0 to 99
	weight float64
}

// strongPeaks of the power spectrum of offsetSize samples; each weighs as the
// square root of its amplitude.
func strongPeaks(power []float32) []peak {
	lo, hi := int(offsetLowest*offsetSize/Rate), int(offsetTop*offsetSize/Rate)
	top := float32(0)
	for _, p := range power[lo:hi] {
		top = max(top, p)
	}
	var out []peak
	for k := lo; k < hi; k++ {
		if p := power[k]; p > power[k-1] && p >= power[k+1] && p > offsetFloor*top {
			hz := (float64(k) + Vertex(power[k-1], p, power[k+1])) * Rate / offsetSize
			deviation := int(math.Round(100 * HzToMIDI(hz)))
			out = append(out, peak{((deviation % 100) + 100) % 100, math.Sqrt(math.Sqrt(float64(p)))})
		}
	}
	return out
}

// commonest is where the smoothed weights on the circle are greatest.
func commonest(weights []float64) int {
	best, top := 0, math.Inf(-1)
	for c := range weights {
		sum := 0.0
		for d := -15; d <= 15; d++ {
			sum += weights[(c+d+100)%100] * math.Exp(-float64(d*d)/(2*6*6))
		}
		if sum > top {
			best, top = c, sum
		}
	}
	return best
}

// meanAround is the mean of the weights on the circle within offsetReach of mode;
// NaN if there are none.
func meanAround(weights []float64, mode int) float64 {
	if weights == nil {
		return math.NaN()
	}
	sum, total := 0.0, 0.0
	for d := -offsetReach; d <= offsetReach; d++ {
		w := weights[(mode+int(d)+100)%100]
		sum, total = sum+w*d, total+w
	}
	return float64(mode) + sum/total
}

// wrapCents brings cents into -50 to 50.
func wrapCents(c float64) float64 { return c - 100*math.Round(c/100) }
