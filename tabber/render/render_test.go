package render

import (
	"math"
	"slices"
	"testing"

	"blowdraw/pitch"
	"blowdraw/tabber/harp"
)

// period measures the fundamental of x in Hz near guess: the peak of the
// normalised autocorrelation over several periods, refined by a parabola.
func period(x []float64, rate int, guess float64) float64 {
	corr := func(lag int) float64 {
		var ab, aa, bb float64
		for i := 0; i+lag < len(x); i++ {
			ab += x[i] * x[i+lag]
			aa += x[i] * x[i]
			bb += x[i+lag] * x[i+lag]
		}
		return ab / math.Sqrt(aa*bb)
	}
	const periods = 8
	mid := periods * float64(rate) / guess
	best, top := 0, -1.0
	for lag := int(mid * 0.96); lag <= int(mid*1.04)+1; lag++ {
		if c := corr(lag); c > top {
			best, top = lag, c
		}
	}
	a, b, c := corr(best-1), corr(best), corr(best+1)
	return periods * float64(rate) / (float64(best) + (a-c)/(2*(a-2*b+c)))
}

func rms(x []float64) float64 {
	var s float64
	for _, v := range x {
		s += v * v
	}
	return math.Sqrt(s / float64(len(x)))
}

func TestPitchOfEveryReed(t *testing.T) {
	const rate = 22050
	for midi := 41.0; midi <= 101; midi += 3.37 {
		n := Note{Start: 0.1, End: 0.9, MIDI: midi, Reed: int(midi), Attack: 0.03, Release: 0.03}
		x := Render([]Note{n}, Set{Seed: 5}, rate)
		want := pitch.MIDIToHz(midi)
		got := period(x[rate/4:3*rate/4], rate, want)
		if cents := 1200 * math.Log2(got/want); math.Abs(cents) > 6 {
			t.Errorf("MIDI %.2f: %.2f Hz, want %.2f (%.1f cents off)", midi, got, want, cents)
		}
	}
}

func TestStartEndAndLevel(t *testing.T) {
	const rate = 22050
	cut := func(x []float64, from, to float64) []float64 { return x[int(from*rate):int(to*rate)] }
	for _, attack := range []float64{0.02, 0.06, 0.15} {
		n := Note{Start: 0.5, End: 1.5, MIDI: 72.3, Level: -6, Attack: attack, Release: 0.05}
		x := Render([]Note{n}, Set{Seed: 1, Breath: -200}, rate)
		if r := rms(cut(x, 0, 0.495)); r != 0 {
			t.Errorf("attack %g: RMS %g before the start", attack, r)
		}
		full := rms(cut(x, 0.8, 1.4))
		if db := 20 * math.Log10(full/0.1); math.Abs(db+6) > 1 {
			t.Errorf("attack %g: level %.2f dB, want -6", attack, db)
		}
		if g := 20 * math.Log10(n.Gain(0.5)); math.Abs(g+6+26) > 0.1 {
			t.Errorf("attack %g: gain %.1f dB at the start, want 26 dB under -6", attack, g)
		}
		if db := 20 * math.Log10(rms(cut(x, 0.5, 0.505))/full); db < -29 || db > -14 {
			t.Errorf("attack %g: the first 5 ms sound at %.1f dB of the full tone", attack, db)
		}
		late := rms(cut(x, 0.5+attack, 0.51+attack)) / full
		if db := 20 * math.Log10(late); math.Abs(db) > 1.5 {
			t.Errorf("attack %g: %.1f dB after the attack, want full level", attack, db)
		}
		if got, want := len(x), int(math.Ceil(1.55*rate)); got != want {
			t.Errorf("attack %g: %d samples, want %d", attack, got, want)
		}
	}
}

func TestScoopContourVibrato(t *testing.T) {
	n := Note{Start: 1, End: 3, MIDI: 70, Scoop: 80, ScoopTime: 0.1,
		Contour: []Point{{1, 0}, {1.5, -200}}}
	for _, c := range []struct{ t, want float64 }{{1, 69.2}, {1.05, 69.6}, {1.1, 70}, {2, 70}, {2.25, 69},
		{2.5, 68}, {3, 68}} {
		if got := n.Pitch(c.t); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("pitch at %g s = %g, want %g", c.t, got, c.want)
		}
	}
	v := Note{End: 4, MIDI: 70, VibratoHz: 5, VibratoCents: 30, VibratoDB: 2}
	lo, hi, turns := 99.0, 0.0, 0
	for i := 500; i < 2500; i++ {
		p, q := v.Pitch(float64(i)/1000), v.Pitch(float64(i+1)/1000)
		lo, hi = min(lo, p), max(hi, p)
		if p < 70 && q >= 70 {
			turns++
		}
	}
	if math.Abs(lo-69.7) > 1e-3 || math.Abs(hi-70.3) > 1e-3 || turns != 10 {
		t.Errorf("vibrato from %g to %g, %d turns in 2 s; want 69.7 to 70.3, 10 turns", lo, hi, turns)
	}
}

func TestSameReedSameTone(t *testing.T) {
	n := Note{MIDI: 60, Reed: 4}
	a, _ := reedTone(9, n, 22050)
	b, _ := reedTone(9, n, 22050)
	if !slices.Equal(a, b) {
		t.Error("the same reed of the same set has two tones")
	}
	n.Reed = 5
	c, _ := reedTone(9, n, 22050)
	if slices.Equal(a, c) {
		t.Error("two reeds have the same tone")
	}
	n.Reed = 4
	d, _ := reedTone(10, n, 22050)
	if slices.Equal(a, d) {
		t.Error("two sets have the same tone")
	}
}

// No partial folds over: well under the fundamental there is only breath.
func TestNoAliasing(t *testing.T) {
	const rate = 22050
	n := Note{End: 1, MIDI: 98.5, Attack: 0.05, Release: 0.05}
	x := Render([]Note{n}, Set{Seed: 2, Breath: -200}, rate)[rate/4 : 3*rate/4]
	for hz := 100.0; hz < 0.45*pitch.MIDIToHz(n.MIDI); hz += 23 {
		var re, im float64
		for i, v := range x {
			w := 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(len(x)))
			s, c := math.Sincos(2 * math.Pi * hz * float64(i) / rate)
			re += v * w * c
			im += v * w * s
		}
		db := 20 * math.Log10(4*math.Hypot(re, im)/float64(len(x))/(0.1*math.Sqrt2))
		if db > -70 {
			t.Errorf("%.0f Hz: %.1f dB against the tone", hz, db)
		}
	}
}

func TestRenderRepeats(t *testing.T) {
	notes := []Note{{Start: 0.1, End: 0.5, MIDI: 60, Attack: 0.03, Release: 0.05},
		{Start: 0.3, End: 0.8, MIDI: 67, Reed: 3}}
	a, b := Render(notes, Set{Seed: 3}, 22050), Render(notes, Set{Seed: 3}, 22050)
	if !slices.Equal(a, b) {
		t.Error("two renderings differ")
	}
}

func TestLimit(t *testing.T) {
	const rate = 8000
	quiet := make([]float64, rate)
	for i := range quiet {
		quiet[i] = 0.5 * math.Sin(float64(i))
	}
	same := slices.Clone(quiet)
	Limit(same, rate, 0.9)
	if !slices.Equal(same, quiet) {
		t.Error("samples under the ceiling were changed")
	}
	loud := slices.Clone(quiet)
	for i := 4000; i < 5000; i++ {
		loud[i] *= 4
	}
	Limit(loud, rate, 0.9)
	for i, v := range loud {
		if math.Abs(v) > 0.9 {
			t.Fatalf("sample %d is %g, over the ceiling", i, v)
		}
	}
	if !slices.Equal(loud[:3900], quiet[:3900]) || !slices.Equal(loud[5100:], quiet[5100:]) {
		t.Error("the limiter reaches further than 10 ms")
	}
}

// The draw octave on holes 1 and 4 and the double stop on 4 and 5 of a C harp:
// pitches from the layout (common practice, no source).
func TestPerform(t *testing.T) {
	richter, err := harp.ParseLayout("richter")
	if err != nil {
		t.Fatal(err)
	}
	h, err := harp.Parse("C", richter)
	if err != nil {
		t.Fatal(err)
	}
	gestures := []Gesture{
		{Start: 1, End: 2, Actions: []harp.Action{{Breath: harp.Draw, Hole: 1}, {Breath: harp.Draw, Hole: 4}},
			Levels: []float64{-3, 0}},
		{Start: 2, End: 3, Actions: []harp.Action{{Breath: harp.Draw, Hole: 4}, {Breath: harp.Draw, Hole: 5}},
			Late: []float64{0, 0.05}},
		{Start: 3, End: 4, Actions: []harp.Action{{Breath: harp.Draw, Hole: 3, Bend: 2}}, Cents: 10},
	}
	notes, events := Perform(h, Tuning{Cents: 20}, gestures)
	want := []float64{62.2, 74.2, 74.2, 77.2, 69.3}
	for i, n := range notes {
		if math.Abs(n.MIDI-want[i]) > 1e-9 {
			t.Errorf("note %d: MIDI %g, want %g", i, n.MIDI, want[i])
		}
	}
	if notes[0].Level != -3 || notes[3].Start != 2.05 {
		t.Errorf("level %g and start %g, want -3 and 2.05", notes[0].Level, notes[3].Start)
	}
	for i, texture := range []string{"split", "double", "single"} {
		if events[i].Texture != texture {
			t.Errorf("event %d is %q, want %q", i, events[i].Texture, texture)
		}
	}
}

// A glide is one note on the reed that both gestures share, half-way at the
// second's start.
func TestGlide(t *testing.T) {
	h := harp.Harp{Layout: harp.Layouts()[0], Base: 60}
	notes, events := Perform(h, Tuning{}, []Gesture{
		{Start: 1, End: 2, Actions: []harp.Action{{Breath: harp.Draw, Hole: 3}}},
		{Start: 2, End: 3, Actions: []harp.Action{{Breath: harp.Draw, Hole: 3, Bend: 2}}, Glide: 0.1},
		{Start: 3, End: 4, Actions: []harp.Action{{Breath: harp.Draw, Hole: 3, Bend: 1}}, Glide: 0.1},
	})
	if len(notes) != 1 || len(events) != 3 || notes[0].End != 4 {
		t.Fatalf("%d notes, %d events", len(notes), len(events))
	}
	for _, c := range []struct{ t, want float64 }{{1.5, 71}, {2, 70}, {2.5, 69}, {3, 69.5}, {3.5, 70}} {
		if got := notes[0].Pitch(c.t); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("pitch at %g s = %g, want %g", c.t, got, c.want)
		}
	}
}

func BenchmarkRender(b *testing.B) {
	n := Note{End: 20, MIDI: 62, Attack: 0.03, Release: 0.05, VibratoHz: 5, VibratoCents: 20}
	for range b.N {
		Render([]Note{n}, Set{Seed: 1}, 22050)
	}
}
