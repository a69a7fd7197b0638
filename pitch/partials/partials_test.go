package partials

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"blowdraw/pitch"
)

// tone is a second of harmonic partials at hz, 6 dB an octave down, that swell by
// the share swell and whose pitch wanders by wander cents.
func tone(hz, level, swell, wander float64) []float64 {
	x := make([]float64, pitch.Rate)
	phase := 0.0
	for i := range x {
		t := float64(i) / pitch.Rate
		phase += 2 * math.Pi * hz / pitch.Rate * math.Exp2(wander*math.Sin(2*math.Pi*5*t)/1200)
		for k := 1; k <= 10; k++ {
			amplitude := 0.1 * math.Pow(10, level/20) / float64(k) * (1 + swell*math.Sin(9*t))
			x[i] += amplitude * math.Sin(float64(k)*phase+float64(k*k))
		}
	}
	return x
}

func plus(a, b []float64) []float64 {
	out := make([]float64, len(a))
	for i := range a {
		out[i] = a[i] + b[i]
	}
	return out
}

func through(x []float64, f func(float64) float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = f(v)
	}
	return out
}

// A memoryless nonlinearity turns a periodic tone into one of the same period, and
// two tones into all sums and differences of their partials (Oppenheim & Willsky,
// "Signals and Systems", on memoryless systems; from memory). So a reed alone keeps
// step through an overdriven stage, and two an octave apart do not.
func TestKeepStep(t *testing.T) {
	clean := func(v float64) float64 { return v }
	overdriven := func(v float64) float64 { return math.Tanh(12*v+0.2) - math.Tanh(0.2) }
	for _, hz := range []float64{98, 196, 311.7, 740} {
		for kind, amp := range map[string]func(float64) float64{"clean": clean, "overdriven": overdriven} {
			name := fmt.Sprintf("%.0f Hz, %s", hz, kind)
			swell := 0.3
			if kind == "overdriven" {
				swell = 0 // the level changes what the stage does
			}
			alone := signs(t, through(tone(hz, 0, swell, 0), amp), hz)
			if alone.EvenAstray > -3 || alone.OddAstray > -3 {
				t.Errorf("%s: one reed goes astray: %+v", name, alone)
			}
			// 2 cents off an octave (frequency ratio 2:1), the upper reed 12 dB weaker.
			upper := tone(2*hz*math.Exp2(2.0/1200), -12, swell, 0)
			both := signs(t, through(plus(tone(hz, 0, swell, 0), upper), amp), hz)
			if both.EvenAstray < alone.EvenAstray+1 || both.EvenMiddle < alone.EvenMiddle+1 {
				t.Errorf("%s: an octave's even partials keep step: %+v, alone %+v", name, both, alone)
			}
			if kind == "clean" && both.OddAstray > both.EvenAstray-1 {
				t.Errorf("%s: an octave's odd partials go astray: %+v", name, both)
			}
		}
	}
}

// A pitch that wanders as in vibrato takes all partials along.
func TestVibratoKeepsStep(t *testing.T) {
	if s := signs(t, tone(330, 0, 0.3, 25), 330); s.EvenAstray > -2 || s.OddAstray > -2 {
		t.Errorf("vibrato goes astray: %+v", s)
	}
}

// Noise leads odd and even partials astray alike.
func TestNoiseTellsNothing(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	x := tone(330, 0, 0.3, 0)
	for i := range x {
		x[i] += 0.02 * rng.NormFloat64()
	}
	if s := signs(t, x, 330); s.EvenAstray < -3 || math.Abs(s.EvenMiddle-s.OddMiddle) > 0.5 {
		t.Errorf("noise: %+v", s)
	}
}

// Levels are those of the partials: 6 dB an octave down from the first's 0.1, which
// is -20 dB.
func TestLevels(t *testing.T) {
	m, ok := Measure(tone(330, 0, 0, 0), 330)
	if !ok || len(m.Level) != Most {
		t.Fatalf("%v %v", m, ok)
	}
	for k := range 8 {
		if want := -20 - 20*math.Log10(float64(k+1)); math.Abs(m.Level[k]-want) > 0.3 {
			t.Errorf("partial %d at %.1f dB, want %.1f", k+1, m.Level[k], want)
		}
	}
}

func TestTooShort(t *testing.T) {
	x := tone(330, 0, 0.3, 0)
	for _, n := range []int{0, 1, 1000, 1700} {
		if _, ok := Measure(x[:n], 330); ok {
			t.Errorf("%d samples are measured", n)
		}
	}
	if _, ok := Measure(x[:2000], 330); !ok {
		t.Error("90 ms are too short")
	}
}

func signs(t *testing.T, x []float64, hz float64) Signs {
	t.Helper()
	m, ok := Measure(x, hz)
	if !ok {
		t.Fatal("too short")
	}
	return m.Signs()
}

func BenchmarkMeasure(b *testing.B) {
	x := tone(330, 0, 0.3, 0)
	for range b.N {
		Measure(x, 330)
	}
}

// Nothing strays where nothing sounds, and every sign is a number.
func TestSilence(t *testing.T) {
	for _, x := range [][]float64{make([]float64, pitch.Rate), {pitch.Rate / 2: 1e-200, pitch.Rate: 0}} {
		tone, ok := Measure(x, 440)
		if !ok {
			t.Fatal("too short")
		}
		s := tone.Signs()
		for _, v := range []float64{
			s.EvenAstray, s.OddAstray, s.EvenMiddle, s.OddMiddle, s.EvenLevel, s.Second, s.OctaveOdds(0),
		} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Errorf("signs of silence: %+v", s)
			}
		}
	}
}
