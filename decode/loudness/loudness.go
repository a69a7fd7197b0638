// Package loudness measures how loud sound is heard, by Recommendation ITU-R
// BS.1770-5 (2023): a filter that follows the head and the ear (K-weighting), the
// mean power over blocks of 400 ms, and a gate that leaves out the silence.
package loudness

import "math"

const (
	stepTime     = 0.1   // s
	perBlock     = 4     // steps in a block; blocks overlap by three quarters
	absoluteGate = -70.0 // LUFS
	relativeGate = -10.0 // LU under the mean of what passes the absolute gate
)

// Integrated is the loudness in LUFS of one or two channels of equal length at
// rate samples a second, full scale being 1. Two channels count together, so the
// same sound in both is 3 dB louder than in one. Silence, and what is shorter
// than a block, is minus infinity.
func Integrated(channels [][]float64, rate int) float64 {
	blocks := blockPowers(channels, rate)
	gate := power(absoluteGate)
	gate = max(gate, mean(blocks, gate)*math.Pow(10, relativeGate/10))
	return level(mean(blocks, gate))
}

// level and power are the loudness of a weighted power, and back (BS.1770, annex 1,
// equation 2).
func level(power float64) float64 { return -0.691 + 10*math.Log10(power) }
func power(level float64) float64 { return math.Pow(10, (level+0.691)/10) }

// mean of the powers above the gate, 0 of none.
func mean(powers []float64, gate float64) float64 {
	sum, n := 0.0, 0
	for _, p := range powers {
		if p > gate {
			sum += p
			n++
		}
	}
	return sum / float64(max(n, 1))
}

// blockPowers are the weighted powers of the blocks, summed over channels.
func blockPowers(channels [][]float64, rate int) []float64 {
	step := int(stepTime * float64(rate))
	var steps []float64
	for _, x := range channels {
		high, low := shelf(rate), highPass(rate)
		for i := range len(x) / step {
			if i == len(steps) {
				steps = append(steps, 0)
			}
			for _, v := range x[i*step : (i+1)*step] {
				y := low.next(high.next(v))
				steps[i] += y * y / float64(step)
			}
		}
	}
	var out []float64
	for i := 0; i+perBlock <= len(steps); i++ {
		sum := 0.0
		for _, p := range steps[i : i+perBlock] {
			sum += p / perBlock
		}
		out = append(out, sum)
	}
	return out
}

// biquad is a filter of second order, direct form II transposed.
type biquad struct{ b0, b1, b2, a1, a2, s1, s2 float64 }

func (f *biquad) next(x float64) float64 {
	y := f.b0*x + f.s1
	f.s1 = f.b1*x - f.a1*y + f.s2
	f.s2 = f.b2*x - f.a2*y
	return y
}

// BS.1770 gives the coefficients of its two filters at 48 kHz (annex 1, tables 1
// and 2). They are the bilinear transforms of a high shelf and a high pass with
// the corner frequencies, gain and qualities below, which give the same filters at
// any rate; the test compares them with the tables.

func shelf(rate int) *biquad {
	const hz, db, q = 1681.974450955533, 3.999843853973347, 0.7071752369554196
	k := math.Tan(math.Pi * hz / float64(rate))
	vh := math.Pow(10, db/20)
	vb := math.Pow(vh, 0.4996667741545416)
	a0 := 1 + k/q + k*k
	return &biquad{
		b0: (vh + vb*k/q + k*k) / a0, b1: 2 * (k*k - vh) / a0, b2: (vh - vb*k/q + k*k) / a0,
		a1: 2 * (k*k - 1) / a0, a2: (1 - k/q + k*k) / a0,
	}
}

func highPass(rate int) *biquad {
	const hz, q = 38.13547087602444, 0.5003270373238773
	k := math.Tan(math.Pi * hz / float64(rate))
	a0 := 1 + k/q + k*k
	return &biquad{b0: 1, b1: -2, b2: 1, a1: 2 * (k*k - 1) / a0, a2: (1 - k/q + k*k) / a0}
}
