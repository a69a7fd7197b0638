package onset

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

const (
	rate = 22050
	hop  = 256
)

// burst adds a tone with six partials from start to end seconds, with linear
// ramps of rise and fall seconds, to x.
func burst(x []float64, hz, start, end, rise, fall, gain float64) {
	for i := max(0, int(start*rate)); i < min(len(x), int(end*rate)); i++ {
		t := float64(i) / rate
		g := gain * min(1, (t-start)/rise, (end-t)/fall)
		for h := 1.0; h <= 6; h++ {
			x[i] += g / h * math.Sin(2*math.Pi*hz*h*t)
		}
	}
}

func noise(x []float64, gain float64) {
	rng := rand.New(rand.NewPCG(3, 4))
	for i := range x {
		x[i] += gain * rng.NormFloat64()
	}
}

// begins are the times of the frames with more than half the probability, those
// within 50 ms of one another taken together.
func begins(p []float32) []float64 {
	var out []float64
	for i, v := range p {
		t := float64(i) * hop / rate
		if v > 0.5 && (len(out) == 0 || t-out[len(out)-1] > 0.05) {
			out = append(out, t)
		}
	}
	return out
}

// matched reports whether both lists have the same times to within reach.
func matched(got, want []float64, reach float64) bool {
	return slices.EqualFunc(got, want, func(a, b float64) bool { return math.Abs(a-b) <= reach })
}

// Clicks are found within 50 ms, the usual tolerance for onsets (MIREX Audio Onset
// Detection, from memory). A rise is counted where it starts, so that a sudden
// one comes up to half a window and the lag early, but all by the same amount.
func TestStrengthOfClicks(t *testing.T) {
	want := []float64{0.4, 0.75, 1.3, 1.42, 2.2}
	x := make([]float64, 3*rate)
	noise(x, 1e-5)
	for _, at := range want {
		for i := range 40 {
			x[int(at*rate)+i] += 0.5 * math.Pow(-0.8, float64(i))
		}
	}
	s := Strength(x, rate, hop)
	if len(s) != len(x)/hop+1 {
		t.Fatalf("%d frames, want %d", len(s), len(x)/hop+1)
	}
	got := begins(Probability(s))
	if !matched(got, want, 0.05) {
		t.Fatalf("clicks at %.3v, want %.3v", got, want)
	}
	for i := 1; i < len(want); i++ {
		if d := (got[i] - got[i-1]) - (want[i] - want[i-1]); math.Abs(d) > 1.5*hop/rate {
			t.Errorf("click %d follows the one before %.0f ms late", i, 1000*d)
		}
	}
}

// Tone bursts with the slow attacks of reeds.
func TestStrengthOfBursts(t *testing.T) {
	want := []float64{0.3, 0.8, 1.5, 2.1}
	x := make([]float64, 3*rate)
	noise(x, 1e-4)
	for i, at := range want {
		burst(x, []float64{392, 587.33, 466.16, 587.33}[i], at, at+0.4, 0.03, 0.04, 0.1)
	}
	if got := begins(Probability(Strength(x, rate, hop))); !matched(got, want, 0.03) {
		t.Errorf("bursts at %.3v, want %.3v", got, want)
	}
}

// Vibrato of 30 cents either way at 6 Hz must not look like attacks: the
// suppression of Böck & Widmer (2013) keeps its flux far below an attack's.
func TestStrengthOfVibrato(t *testing.T) {
	x := make([]float64, 3*rate)
	phase := 0.0
	for i := rate / 2; i < len(x); i++ {
		at := float64(i)/rate - 0.5
		phase += 2 * math.Pi * 587.33 * math.Exp2(30./1200*math.Sin(2*math.Pi*6*at)) / rate
		for h := 1.0; h <= 6; h++ {
			x[i] += 0.1 * min(1, at/0.03) / h * math.Sin(h*phase)
		}
	}
	s := Strength(x, rate, hop)
	attack := slices.Max(s[:rate/hop])
	wobble := slices.Max(s[rate/hop : len(s)-5])
	if wobble > attack/10 {
		t.Errorf("vibrato rises by %.2f, the attack by %.2f", wobble, attack)
	}
}

// The level falls 20 dB for 40 ms between two notes of one pitch.
func TestDips(t *testing.T) {
	x := make([]float64, 4*rate)
	burst(x, 440, 0.3, 3.7, 0.02, 0.02, 0.1)
	want := []float64{1.0, 1.6, 2.5}
	for _, at := range want {
		for i := int((at - 0.04) * rate); i < int(at*rate); i++ {
			x[i] *= 0.1
		}
	}
	d := Dips(x, rate, hop)
	if len(d) != len(x)/hop+1 {
		t.Fatalf("%d frames, want %d", len(d), len(x)/hop+1)
	}
	if got := begins(Tongued(d)); !matched(got, want, 0.03) {
		t.Errorf("dips end at %.3v, want %.3v", got, want)
	}
	for _, at := range want {
		i := int(at * rate / hop)
		if depth := slices.Max(d[i-3 : i+4]); math.Abs(depth-20) > 3 {
			t.Errorf("the dip before %.1f s is %.1f dB deep, want 20", at, depth)
		}
	}
}

// Throat vibrato of 3 dB either way at 5 Hz is not tongued, nor is a lone attack
// or the end of a note.
func TestDipsOfVibrato(t *testing.T) {
	x := make([]float64, 3*rate)
	burst(x, 440, 0.3, 2.7, 0.02, 0.05, 0.1)
	for i := range x {
		x[i] *= math.Pow(10, 3./20*math.Sin(2*math.Pi*5*float64(i)/rate))
	}
	if got := begins(Tongued(Dips(x, rate, hop))); len(got) > 0 {
		t.Errorf("vibrato is tongued at %.3v", got)
	}
}

func TestNothingBegins(t *testing.T) {
	for _, n := range []int{0, 1, hop, rate} {
		x := make([]float64, n)
		if got := begins(Tongued(Dips(x, rate, hop))); len(got) > 0 {
			t.Errorf("%d zeros are tongued at %.3v", n, got)
		}
		s := Strength(x, rate, hop)
		if len(s) != n/hop+1 || slices.Max(s) != 0 {
			t.Errorf("%d zeros: strength %v", n, s)
		}
		if got := begins(Probability(s)); len(got) > 0 {
			t.Errorf("notes begin at %.3v in %d zeros", got, n)
		}
	}
}

func TestPhrases(t *testing.T) {
	spans := [][2]float64{{1, 1.5}, {1.5, 2}, {2.3, 4}, {2.5, 3}, {4.44, 4.6}, {5.06, 6}, {9, 9.1}}
	want := [][2]float64{{1, 4.6}, {5.06, 6}, {9, 9.1}}
	if got := Phrases(spans, 0.45); !slices.Equal(got, want) {
		t.Errorf("phrases %v, want %v", got, want)
	}
	if got := Phrases(nil, 0.45); len(got) > 0 {
		t.Errorf("no spans make the phrases %v", got)
	}
	if got := Phrases(spans[:2], 0); !slices.Equal(got, [][2]float64{{1, 1.5}, {1.5, 2}}) {
		t.Errorf("without space: %v", got)
	}
}

func BenchmarkStrength(b *testing.B) {
	x := make([]float64, 20*rate)
	noise(x, 0.1)
	for b.Loop() {
		Strength(x, rate, hop)
	}
	b.ReportMetric(20*float64(b.N)/b.Elapsed().Seconds(), "x-real-time")
}
