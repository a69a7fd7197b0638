package effect

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

const rate = 22050

func sine(hz, seconds float64) []float64 {
	x := make([]float64, int(seconds*rate))
	for i := range x {
		x[i] = 0.3 * math.Sin(2*math.Pi*hz*float64(i)/rate)
	}
	return x
}

// level is the amplitude of x at hz, by a Hann-windowed Fourier sum.
func level(x []float64, hz float64) float64 {
	var re, im float64
	for i, v := range x {
		w := 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(len(x)))
		s, c := math.Sincos(2 * math.Pi * hz * float64(i) / rate)
		re += v * w * c
		im += v * w * s
	}
	return 4 * math.Hypot(re, im) / float64(len(x))
}

// The tail of a noise burst falls by 60 dB in T60: the slope of the decay
// between -5 and -25 dB, as ISO 3382-1 measures T20 (backward integration).
func TestReverbTime(t *testing.T) {
	for _, t60 := range []float64{0.4, 1, 2.5, 4} {
		x := make([]float64, int((t60+1)*rate))
		rng := rand.New(rand.NewPCG(1, 2))
		for i := range rate / 10 {
			x[i] = rng.NormFloat64()
		}
		x = lowpass(x, rate, 1000)
		y := Reverb(x, rate, Room{T60: t60, Direct: -20, PreDelay: 0.01, Seed: 3})
		tail := y[rate/10+rate/5:]
		energy := make([]float64, len(tail)+1)
		for i := len(tail) - 1; i >= 0; i-- {
			energy[i] = energy[i+1] + tail[i]*tail[i]
		}
		at := func(db float64) float64 {
			for i := range tail {
				if 10*math.Log10(energy[i]/energy[0]) < db {
					return float64(i) / rate
				}
			}
			return math.NaN()
		}
		got := 3 * (at(-25) - at(-5))
		if math.Abs(got/t60-1) > 0.2 {
			t.Errorf("T60 %.2f s, want %.2f", got, t60)
		}
	}
}

func TestReverbDirectShare(t *testing.T) {
	x := make([]float64, 3*rate)
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range x {
		x[i] = rng.NormFloat64()
	}
	y := Reverb(x, rate, Room{T60: 0.5, Direct: 6, Seed: 1})
	// Project y on x: what is left is the reverberation.
	var xy, xx float64
	for i := range x {
		xy += x[i] * y[i]
		xx += x[i] * x[i]
	}
	g := xy / xx
	var wet float64
	for i := range x {
		wet += (y[i] - g*x[i]) * (y[i] - g*x[i])
	}
	if db := 10 * math.Log10(g*g*xx/wet); math.Abs(db-6) > 1 {
		t.Errorf("direct-to-reverberant ratio %.2f dB, want 6", db)
	}
}

// Two tones in an overdriven amplifier make the tones 2f1-f2 and f2-f1, which
// neither has alone; nothing folds over.
func TestOverdrive(t *testing.T) {
	x := sine(1000, 1)
	for i, v := range sine(1300, 1) {
		x[i] += v
	}
	amp := Amp{Drive: 12, Bias: 0.2, Low: 60, High: 6000}
	y := Overdrive(x, rate, amp)
	for _, hz := range []float64{700, 300} {
		before, after := level(x, hz), level(y, hz)/level(y, 1000)
		if before > 1e-6 || after < 0.02 {
			t.Errorf("%g Hz: %g before, %g of the tone after", hz, before, after)
		}
	}
	single := Overdrive(sine(3000, 1), rate, amp)
	for _, hz := range []float64{4050, 1050, 1950} { // 6, 7, 8 times 3 kHz folded at 22.05 kHz
		if db := 20 * math.Log10(level(single, hz)/level(single, 3000)); db > -50 {
			t.Errorf("alias at %g Hz: %.1f dB", hz, db)
		}
	}
}

func TestRecord(t *testing.T) {
	x := sine(800, 2)
	for i, v := range sine(60, 2) {
		x[i] += v
	}
	y := Record(x, rate, Disc{Low: 200, High: 4000, Noise: -30, Clicks: 5, Seed: 4})
	if db := 20 * math.Log10(level(y, 60)/level(y, 800)); db > -25 {
		t.Errorf("60 Hz comes through at %.1f dB", db)
	}
	y = Record(sine(800, 4), rate, Disc{Low: 50, High: 9000, Noise: -200, Wow: 10, Seed: 4})
	// Count zero crossings in 1/16 s windows: the frequency swings by 10 cents.
	lo, hi := 1e9, 0.0
	for i := rate / 4; i+rate/16 < len(y)-rate/4; i += 100 {
		hz := crossings(y[i : i+rate/16])
		lo, hi = min(lo, hz), max(hi, hz)
	}
	if swing := 600 * math.Log2(hi/lo); math.Abs(swing-10) > 2 {
		t.Errorf("wow of %.1f cents each way, want 10", swing)
	}
}

// crossings is the frequency of x in Hz between its first and last rising zero
// crossing.
func crossings(x []float64) float64 {
	var first, last float64
	count := -1
	for i := 1; i < len(x); i++ {
		if x[i-1] < 0 && x[i] >= 0 {
			last = float64(i-1) + x[i-1]/(x[i-1]-x[i])
			if count < 0 {
				first = last
			}
			count++
		}
	}
	return float64(count) * rate / (last - first)
}

func TestLoudnessAndRepeat(t *testing.T) {
	x := sine(500, 1)
	for name, f := range map[string]func() []float64{
		"Reverb": func() []float64 { return Reverb(x, rate, Room{T60: 1, Direct: 0, Seed: 1}) },
		"Overdrive": func() []float64 {
			return Overdrive(x, rate,
				Amp{Drive: 10, Bias: 0.1, Low: 100, High: 5000})
		},
		"Record": func() []float64 {
			return Record(x, rate,
				Disc{Low: 200, High: 4000, Noise: -30, Clicks: 3, Wow: 5})
		},
	} {
		y := f()
		if len(y) != len(x) || math.Abs(RMS(y)/RMS(x)-1) > 1e-9 {
			t.Errorf("%s: %d samples of RMS %g, want %d of %g", name, len(y), RMS(y), len(x), RMS(x))
		}
		if !slices.Equal(y, f()) {
			t.Errorf("%s: two runs differ", name)
		}
	}
}
