// Package onset tells when: attacks and phrases with the space between them.
package onset

import (
	"math"

	"blowdraw/decode/fft"
)

const (
	window    = 1024 // samples, 46 ms at 22.05 kHz
	perOctave = 24   // filters
	lag       = 2    // frames between which the spectrum's rise is measured
	lowestHz  = 90
)

// Strength is the spectral flux with vibrato suppression of Böck & Widmer
// (2013), "Maximum filter vibrato suppression for onset detection": the summed
// rise of a logarithmic spectrum with 24 filters an octave against the loudest
// of three neighbouring filters two frames earlier, in logarithmic units summed
// over filters. One value a hop, frame i centred on sample i*hop of x, the rise
// counted where it starts.
func Strength(x []float64, rate, hop int) []float32 {
	n := len(x)/hop + 1
	edges := filters(rate)
	magnitudes := make([]float64, window/2+1)
	past := make([][]float64, lag+1)
	for i := range past {
		past[i] = make([]float64, len(edges)-2)
	}
	out := make([]float32, n)
	fft.NewFrames(fft.Hann(window), hop).Each(x, -window/2, n+lag, func(i int, power []float32) {
		now := past[i%len(past)]
		for k, p := range power {
			magnitudes[k] = math.Sqrt(float64(p))
		}
		filter(magnitudes, edges, now)
		if i < lag {
			return
		}
		rise, then := 0.0, past[(i-lag)%len(past)]
		for b, v := range now {
			top := then[b]
			if b > 0 {
				top = max(top, then[b-1])
			}
			if b+1 < len(then) {
				top = max(top, then[b+1])
			}
			rise += max(0, v-top)
		}
		out[i-lag] = float32(rise)
	})
	return out
}

// filters are the edges of overlapping triangles, in FFT bins, one bin or more
// apart.
func filters(rate int) []int {
	var edges []int
	for k := 0; ; k++ {
		bin := int(math.Round(lowestHz * math.Exp2(float64(k)/perOctave) / float64(rate) * window))
		if bin > window/2 {
			return edges
		}
		if len(edges) == 0 || bin > edges[len(edges)-1] {
			edges = append(edges, bin)
		}
	}
}

// filter fills dst with the logarithmic magnitudes of the filters.
func filter(magnitudes []float64, edges []int, dst []float64) {
	for b := range dst {
		lo, mid, hi := edges[b], edges[b+1], edges[b+2]
		rise, fall := 0.0, 0.0
		for k, m := range magnitudes[lo:mid] {
			rise += float64(k) * m
		}
		for k, m := range magnitudes[mid:hi] {
			fall += float64(hi-mid-k) * m
		}
		dst[b] = math.Log(1+rise/float64(mid-lo)+fall/float64(hi-mid)) / math.Ln10
	}
}
