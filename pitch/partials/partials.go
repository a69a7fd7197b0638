// Package partials measures what the partials of a fundamental do over a stretch
// of sound, to tell whether one reed makes all of them.
//
// A reed's tone is strictly periodic (Fletcher & Rossing 1998, "The Physics of
// Musical Instruments", section 13.4). Whatever its pitch and loudness do, partial n
// turns n times as fast as the first and swells with the others; a memoryless
// nonlinearity such as an overdriven amplifier keeps a steady tone periodic. A
// second reed an octave up puts its partials on the even ones of the first. Two
// reeds are never in tune to the last tenth of a cent, so that the sum drifts
// against the odd partials: it goes astray in phase, and where it beats in level.
// This is the phase coupling that the bispectrum shows (Kim & Powers 1979, "Digital
// bispectral analysis and its applications to nonlinear wave interactions"),
// measured here against the common phase of the odd partials.
//
// Reverberation and other instruments lead partials astray as well, odd and even
// alike, which is why both are told.
package partials

import (
	"math"

	"blowdraw/pitch"
)

// Most is how many partials are measured at most.
const Most = 12

const (
	periods    = 5    // of the fundamental that a window holds at least
	leastSize  = 1024 // samples of a window (46 ms)
	overlap    = 8    // windows that cover a sample
	leastSteps = 6    // windows that a measurement takes at least
	floor      = 1e-5 // least share that counts as astray
	topShare   = 0.45 // of the sample rate up to which partials are measured
)

// Tone is how the partials of one fundamental behave. Element k is about partial
// k+1; partials beyond 9.9 kHz or beyond Most are left out.
type Tone struct {
	Hz    float64
	Level []float64 // dB; 0 dB is a sine of full scale
	// Astray is log10 of the share of its power that does not follow the common phase and
	// envelope: -5 to 0.
	Astray []float64
}

// Measure the tone of fundamental hz in samples at pitch.Rate, which should hold
// its steady part. It reports false for what is too short: less than about 80 ms,
// more for fundamentals below 100 Hz.
func Measure(samples []float64, hz float64) (Tone, bool) {
	size := max(leastSize, int(periods*pitch.Rate/hz)/overlap*overlap)
	if len(samples) < size+leastSteps*size/overlap {
		return Tone{}, false
	}
	// The odd partials up to the third give the phase about which all are measured.
	phase := steady(hz, len(samples))
	drift := commonPhase(demodulate(samples, phase, size, 3))
	follow(phase, drift, size)
	z := demodulate(samples, phase, size, count(hz))
	drift = commonPhase(z)
	t := Tone{Hz: hz}
	envelope := make([]float64, len(drift))
	for k := range z {
		for i, v := range z[k] {
			envelope[i] += real(v)*real(v) + imag(v)*imag(v)
		}
	}
	for i, v := range envelope {
		envelope[i] = math.Sqrt(v)
	}
	for k := range z {
		level, astray := compare(z[k], drift, float64(k+1), envelope)
		t.Level, t.Astray = append(t.Level, level), append(t.Astray, astray)
	}
	return t, true
}

// count is how many partials of hz are measured.
func count(hz float64) int { return min(Most, int(topShare*pitch.Rate/hz)) }

// steady is the phase in radians of a tone of hz at each of n samples.
func steady(hz float64, n int) []float64 {
	phase := make([]float64, n)
	for i := range phase {
		phase[i] = 2 * math.Pi * hz / pitch.Rate * float64(i)
	}
	return phase
}

// follow adds a drift, known at the middle of each window, to a phase.
func follow(phase, drift []float64, size int) {
	hop := float64(size / overlap)
	for i := range phase {
		at := (float64(i) - float64(size)/2) / hop
		k := min(max(int(math.Floor(at)), 0), len(drift)-2)
		x := min(max(at-float64(k), 0), 1)
		phase[i] += (1-x)*drift[k] + x*drift[k+1]
	}
}

// demodulate returns the complex amplitudes [partial][window] of the first n
// partials of the tone with that phase, through Hann windows of size samples, a
// multiple of overlap.
func demodulate(samples, phase []float64, size, n int) [][]complex128 {
	hop := size / overlap
	windows := (len(samples)-size)/hop + 1
	turn, turned := make([]complex128, len(samples)), make([]complex128, len(samples))
	for i, p := range phase {
		s, c := math.Sincos(p)
		turn[i], turned[i] = complex(c, -s), complex(samples[i], 0)
	}
	slow := make([]complex128, hop)
	for i := range slow {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(size))
		slow[i] = complex(c, s)
	}
	var begins [overlap]complex128
	for i := range begins {
		s, c := math.Sincos(2 * math.Pi * float64(i) / overlap)
		begins[i] = complex(c, s)
	}
	out := make([][]complex128, n)
	parts := make([]part, windows+overlap-1)
	for k := range out {
		for i := range parts {
			parts[i] = partOf(turned[i*hop:(i+1)*hop], turn[i*hop:(i+1)*hop], slow)
		}
		out[k] = make([]complex128, windows)
		for w := range out[k] {
			out[k][w] = hann(parts[w:w+overlap], &begins) * complex(2/float64(size), 0)
		}
	}
	return out
}

// part of a window: the sums of its samples v, of v cos x and of v sin x, where x
// goes once round the circle over a window, from 0 at the part's first sample.
type part struct{ v, cos, sin complex128 }

// partOf moves the samples on by a turn and sums them up.
func partOf(samples, turn, slow []complex128) part {
	var p part
	turn, slow = turn[:len(samples)], slow[:len(samples)]
	for i := range samples {
		v := samples[i] * turn[i]
		samples[i] = v
		c, s := real(slow[i]), imag(slow[i])
		p.v += v
		p.cos += complex(c*real(v), c*imag(v))
		p.sin += complex(s*real(v), s*imag(v))
	}
	return p
}

// hann is the sum of a window's samples, each times 1 - cos x: cos(a + x) is
// cos a cos x - sin a sin x, where a is where a part begins, begins e^(ia).
func hann(parts []part, begins *[overlap]complex128) complex128 {
	var sum complex128
	for i, p := range parts {
		c, s := real(begins[i]), imag(begins[i])
		sum += p.v - complex(c*real(p.cos)-s*real(p.sin), c*imag(p.cos)-s*imag(p.sin))
	}
	return sum
}

// commonPhase is by how many radians the fundamental moves on from the first
// window, by the odd partials: the phase step for which the sum over them of
// power times squared error is least.
func commonPhase(z [][]complex128) []float64 {
	drift := make([]float64, len(z[0]))
	for i := 1; i < len(drift); i++ {
		num, den := 0.0, 1e-300
		for k := 0; k < len(z); k += 2 {
			n := float64(k + 1)
			step := z[k][i] * complex(real(z[k][i-1]), -imag(z[k][i-1]))
			power := math.Hypot(real(step), imag(step))
			num += power * n * math.Atan2(imag(step), real(step))
			den += power * n * n
		}
		drift[i] = drift[i-1] + num/den
	}
	return drift
}

// compare a partial with the envelope, at n times the drift.
func compare(z []complex128, drift []float64, n float64, envelope []float64) (level, astray float64) {
	var along complex128
	power, whole := 1e-100, 1e-100 // whose product is more than 0, too
	for i, v := range z {
		s, c := math.Sincos(-n * drift[i])
		along += v * complex(c*envelope[i], s*envelope[i])
		power += real(v)*real(v) + imag(v)*imag(v)
		whole += envelope[i] * envelope[i]
	}
	share := 1 - (real(along)*real(along)+imag(along)*imag(along))/(power*whole)
	return 10 * math.Log10(power/float64(len(z))+1e-12), math.Log10(max(share, 0) + floor)
}
