package beat_test

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"

	"blowdraw/decode/programs"
	"blowdraw/onset"
	"blowdraw/onset/beat"
)

const (
	rate = 22050
	hop  = 256
)

func strength(x []float64) beat.Strength {
	return beat.Strength{Hop: float64(hop) / rate, Values: onset.Strength(x, rate, hop)}
}

// sox makes raw sound with the program sox (Debian package sox).
func sox(t *testing.T, args ...string) {
	t.Helper()
	if out, err := exec.Command("sox", args...).CombinedOutput(); err != nil {
		t.Fatalf("sox %q: %v\n%s", args, err, out)
	}
}

func needSox(t *testing.T) {
	t.Helper()
	programs.Need(t, "sox")
}

// clicks makes a click track: one loud click a beat and, if swing is above 0,
// a soft one after that share of the beat.
func clicks(t *testing.T, bpm, swing float64, beats int) []float64 {
	t.Helper()
	dir := t.TempDir()
	cell := func(name string, samples int, gain string) string {
		path := filepath.Join(dir, name+".wav")
		sox(t, "-D", "-r", fmt.Sprint(rate), "-n", "-b", "16", path,
			"synth", "220s", "sine", "1500", "fade", "l", "0", "220s", "200s",
			"gain", gain, "pad", "0", fmt.Sprintf("%ds", samples-220))
		return path
	}
	period := int(math.Round(60 / bpm * rate))
	parts := []string{cell("beat", period, "-3")}
	if swing > 0 {
		first := int(math.Round(swing * float64(period)))
		parts = []string{cell("on", first, "-3"), cell("off", period-first, "-12")}
	}
	raw := filepath.Join(dir, "track.s16")
	sox(t, append(append([]string{"-D"}, parts...),
		"-t", "raw", "-e", "signed", "-b", "16", "-L", raw, "repeat", fmt.Sprint(beats-1))...)
	b, err := os.ReadFile(raw)
	if err != nil {
		t.Fatal(err)
	}
	x := make([]float64, len(b)/2)
	for i := range x {
		x[i] = float64(int16(binary.LittleEndian.Uint16(b[2*i:]))) / 32768
	}
	if want := beats * period; len(x) != want {
		t.Fatalf("sox made %d samples, want %d", len(x), want)
	}
	return x
}

// Source of the sound: sox. Tempo to half a per cent, every beat to 30 ms, the
// swing ratio to a tenth.
func TestClickTracks(t *testing.T) {
	needSox(t)
	for _, c := range []struct {
		bpm, swing float64
		feel       string
	}{
		{60, 0, ""}, {76, 0, ""}, {92, 0, ""}, {120, 0, ""}, {144, 0, ""}, {168, 0, ""},
		{72, 0.5, beat.Straight}, {96, 0.5, beat.Straight}, {120, 0.5, beat.Straight},
		{84, 0.6, beat.Swing}, {120, 0.6, beat.Swing},
		{66, 2. / 3, beat.Swing}, {108, 2. / 3, beat.Swing}, {132, 2. / 3, beat.Swing}, {160, 2. / 3, beat.Swing},
	} {
		name := fmt.Sprintf("%g bpm, swing %.2f", c.bpm, c.swing)
		x := clicks(t, c.bpm, c.swing, 40)
		period := math.Round(60/c.bpm*rate) / rate
		r := beat.Find(strength(x), nil, 0, 40*period, 0)
		if math.Abs(r.BPM*period/60-1) > 0.005 {
			t.Errorf("%s: %.2f bpm, alternative %.1f", name, r.BPM, r.Alternative)
			continue
		}
		half, double := r.BPM/2, r.BPM*2
		if math.Abs(r.Alternative-half) > 1 && math.Abs(r.Alternative-double) > 2 {
			t.Errorf("%s: alternative %.1f is neither half nor double", name, r.Alternative)
		}
		found := 0
		for k := range 40 {
			if slices.ContainsFunc(r.Beats, func(b float64) bool { return math.Abs(b-float64(k)*period) < 0.03 }) {
				found++
			}
		}
		if found < 39 || len(r.Beats) > 41 {
			t.Errorf("%s: %d of 40 beats, %d written", name, found, len(r.Beats))
		}
		if r.Feel != c.feel {
			t.Errorf("%s: feel %q, want %q", name, r.Feel, c.feel)
		}
		if c.swing > 0 && math.Abs(r.SwingRatio-c.swing/(1-c.swing)) > 0.1*c.swing/(1-c.swing) {
			t.Errorf("%s: swing ratio %.2f", name, r.SwingRatio)
		}
	}
}

// melody is note starts on places of each beat, some left out, none for four
// beats in every twelve, played loosely by the deviation in seconds.
func melody(
	seed uint64, places []float64, beats int, loose float64, when func(beat float64) float64,
) []float64 {
	rng := rand.New(rand.NewPCG(seed, 1))
	var out []float64
	for b := range beats {
		for i, p := range places {
			if b%12 < 8 && (i == 0 && rng.Float64() < 0.8 || rng.Float64() < 0.6) {
				out = append(out, when(float64(b)+p)+loose*rng.NormFloat64())
			}
		}
	}
	return out
}

// A player alone, in triplets with 10 ms of looseness and spaces of four beats,
// is followed at every tempo.
func TestTripletsAlone(t *testing.T) {
	right, all := 0, 0
	for _, bpm := range []float64{64, 76, 88, 104, 118, 130, 146} {
		for seed := range uint64(5) {
			beats := int(24 * bpm / 60)
			when := func(b float64) float64 { return 0.3 + b*60/bpm }
			notes := melody(seed, []float64{0, 1. / 3, 2. / 3}, beats, 0.01, when)
			r := beat.Find(beat.Strength{Hop: 1}, notes, 0, 24.3, 0)
			all++
			if math.Abs(r.BPM/bpm-1) < 0.02 {
				right++
			}
		}
	}
	t.Logf("%d of %d", right, all)
	if right < all*9/10 {
		t.Errorf("tempo right in %d of %d", right, all)
	}
}

// A band that slows down from 120 to 100 is followed: beats stay within 50 ms.
func TestChangingTempo(t *testing.T) {
	const seconds = 60.0
	// beats per second fall evenly; phase(t) = 2t - t²/360
	when := func(b float64) float64 { return 360 - math.Sqrt(360*360-360*b) }
	x := make([]float64, int(seconds*rate))
	var want []float64
	for b := 0.0; when(b) < seconds-0.1; b++ {
		want = append(want, when(b))
		for i := range 400 {
			x[int(when(b)*rate)+i] = 0.5 * math.Exp(-float64(i)/80) * math.Sin(float64(i)*0.4)
		}
	}
	r := beat.Find(strength(x), nil, 0, seconds, 0)
	found := 0
	for _, w := range want {
		if slices.ContainsFunc(r.Beats, func(b float64) bool { return math.Abs(b-w) < 0.05 }) {
			found++
		}
	}
	if float64(found) < 0.97*float64(len(want)) || len(r.Beats) > len(want)+2 {
		t.Errorf("%d of %d beats, %d written, %.1f bpm", found, len(want), len(r.Beats), r.BPM)
	}
	if r.BPM < 105 || r.BPM > 115 {
		t.Errorf("%.1f bpm, want the middle of 100 and 120", r.BPM)
	}
}

func TestGivenTempo(t *testing.T) {
	at := func(b float64) float64 { return b * 60 / 92 }
	notes := melody(3, []float64{0, 1. / 3, 2. / 3}, 40, 0, at)
	r := beat.Find(beat.Strength{Hop: 1}, notes, 0, at(40), 92)
	if r.BPM != 92 || r.Alternative != 0 {
		t.Errorf("%g bpm, alternative %g", r.BPM, r.Alternative)
	}
	for i := 1; i < len(r.Beats); i++ {
		if d := (r.Beats[i] - r.Beats[i-1]) * 92 / 60; d < 0.9 || d > 1.1 {
			t.Errorf("beats %g s apart at %g s", r.Beats[i]-r.Beats[i-1], r.Beats[i])
		}
	}
	if r.Feel != beat.Triplet {
		t.Errorf("feel %q", r.Feel)
	}
}

// Where too little begins, nothing is said.
func TestTooLittle(t *testing.T) {
	for _, notes := range [][]float64{nil, {1}, {1, 2, 3}} {
		if r := beat.Find(beat.Strength{Hop: 1}, notes, 0, 10, 0); r.BPM != 0 || r.Beats != nil || r.Feel != "" {
			t.Errorf("%v: %+v", notes, r)
		}
	}
	if r := beat.Find(strength(make([]float64, 10*rate)), nil, 0, 10, 0); r.BPM != 0 {
		t.Errorf("silence: %g bpm", r.BPM)
	}
	if r := beat.Find(beat.Strength{Hop: 1}, []float64{1, 2}, 0, 10, 96); r.BPM != 96 {
		t.Errorf("given 96: %g bpm", r.BPM)
	}
	crowd := []float64{1, 1.01, 1.02, 1.03, 1.04, 1.05, 1.06}
	if r := beat.Find(beat.Strength{Hop: 1}, crowd, 1, 1.1, 0); len(r.Beats) > 1 {
		t.Errorf("a tenth of a second: %+v", r)
	}
}

// BenchmarkFind measures the tempo of an hour.
func BenchmarkFind(b *testing.B) {
	const seconds = 3600
	s := beat.Strength{Hop: float64(hop) / rate, Values: make([]float32, seconds*rate/hop)}
	rng := rand.New(rand.NewPCG(5, 6))
	for i := range s.Values {
		s.Values[i] = rng.Float32()
	}
	var notes []float64
	for t := 0.25; t < seconds; t += 0.5 {
		s.Values[int(t*rate)/hop] += 8
		notes = append(notes, t)
	}
	b.ReportAllocs()
	for b.Loop() {
		beat.Find(s, notes, 0, seconds, 0)
	}
	b.ReportMetric(seconds*float64(b.N)/b.Elapsed().Seconds(), "x-real-time")
}
