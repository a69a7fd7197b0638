package render

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"blowdraw/decode/loudness"
	"blowdraw/decode/stretch"
	"blowdraw/pitch"
	"blowdraw/tabber/harp/harptest"
	"blowdraw/tabber/tab"
)

// passage is a tab on an A harp of events with times.
func passage(t *testing.T, tokens []string, times []float64) tab.Document {
	t.Helper()
	h := harptest.Of(t, "A", "richter")
	d := tab.Document{Harp: h, SongKey: 4}
	for i, s := range tokens {
		a, err := tab.ParseToken(h, s)
		if err != nil {
			t.Fatal(err)
		}
		d.Events = append(d.Events, tab.Event{Start: times[2*i], End: times[2*i+1], Actions: a,
			Texture: tab.Texture(a), Confidence: 1})
	}
	return d
}

// sharpest is the largest second difference, which a click makes large.
func sharpest(x []float64) float64 {
	top := 0.0
	for i := 2; i < len(x); i++ {
		top = max(top, math.Abs(x[i]-2*x[i-1]+x[i-2]))
	}
	return top
}

// half is where the mean magnitude over 20 ms passes half of the greatest within
// a stretch of seconds, rising or falling.
func half(x []float64, rate int, from, to float64, rising bool) float64 {
	n := rate / 50
	var means []float64
	top := 0.0
	for i := int(from * float64(rate)); i+n <= min(len(x), int(to*float64(rate))); i++ {
		sum := 0.0
		for _, v := range x[i : i+n] {
			sum += math.Abs(v) / float64(n)
		}
		means = append(means, sum)
		top = max(top, sum)
	}
	for i, v := range means {
		if v > top/2 == rising {
			return from + (float64(i)+float64(n)/2)/float64(rate)
		}
	}
	return math.NaN()
}

// A reed passage slowed down: pitch within 3 cents, ends of notes within 5 ms, no
// clicks.
func TestStretchedReeds(t *testing.T) {
	const rate = 44100
	d := passage(t, []string{"-1", "4", "-3''", "[-4 -5]", "8"},
		[]float64{0.5, 1.1, 1.5, 2.2, 2.6, 3.2, 3.6, 4.3, 4.7, 5.5})
	x := Render(Play(d, 0, 1, 0), Set{Seed: 4}, rate)
	var worstCents, worstEnd float64
	for _, speed := range []float64{0.5, 0.6, 0.8} {
		y := stretch.Stretch([][]float64{x}, rate, speed, 0)[0]
		if got, want := float64(len(y))/rate, float64(len(x))/rate/speed; math.Abs(got-want) > 0.001 {
			t.Errorf("speed %g: %.3f s long, want %.3f", speed, got, want)
		}
		if got, most := sharpest(y), 1.3*sharpest(x); got > most {
			t.Errorf("speed %g: clicks: %.4f, the input has %.4f", speed, got, most/1.3)
		}
		for _, e := range d.Events {
			name := fmt.Sprintf("speed %g, %s", speed, tab.Token(e.Actions))
			close := 0.005
			if len(e.Actions) > 1 {
				close = 0.006 // the level beats
			}
			for _, side := range []struct {
				at     float64
				rising bool
			}{{e.Start, true}, {e.End, false}} {
				want := half(x, rate, side.at-0.05, side.at+0.15, side.rising) / speed
				got := half(y, rate, side.at/speed-0.06, side.at/speed+0.16, side.rising)
				worstEnd = max(worstEnd, math.Abs(got-want))
				if !(math.Abs(got-want) < close) {
					t.Errorf("%s: passes half its level at %.4f s, want %.4f", name, got, want)
				}
			}
			if len(e.Actions) > 1 {
				continue
			}
			guess := pitch.MIDIToHz(float64(d.Harp.MIDI(e.Actions[0])))
			from, to := e.Start+0.15, e.End-0.1
			want := period(x[int(from*rate):int(to*rate)], rate, guess)
			got := period(y[int(from/speed*rate):int(to/speed*rate)], rate, guess)
			off := 1200 * math.Log2(got/want)
			worstCents = max(worstCents, math.Abs(off))
			if !(math.Abs(off) < 3) {
				t.Errorf("%s: %.2f cents off", name, off)
			}
		}
	}
	t.Logf("at most %.2f cents and, at the ends of notes, %.1f ms off", worstCents, 1000*worstEnd)
}

// Played slower, everything lies where it should, at the pitch it had.
func TestPlaySlowly(t *testing.T) {
	d := passage(t, []string{"-2", "-4'"}, []float64{10, 11, 12, 13})
	for _, speed := range []float64{1, 0.5} {
		notes := Play(d, 9.5, speed, 20)
		if len(notes) != 2 || math.Abs(notes[1].Start-2.5/speed) > 1e-9 ||
			math.Abs(notes[1].End-3.5/speed) > 1e-9 {
			t.Errorf("speed %g: %+v", speed, notes)
		}
		if got := notes[1].MIDI; math.Abs(got-70.2) > 1e-9 { // A harp: draw 4 is B4, 71
			t.Errorf("speed %g: MIDI %g, want 70.2", speed, got)
		}
	}
}

// What the harp cannot play sounds as it was heard.
func TestPlayAsHeard(t *testing.T) {
	d := passage(t, []string{"4"}, []float64{1, 2})
	d.TuningCents = 30
	d.Events = append(d.Events, tab.Event{Start: 2, End: 3, Pitches: []float64{63.5}})
	notes := Play(d, 0, 1, 0)
	if len(notes) != 2 || math.Abs(notes[1].MIDI-63.2) > 1e-9 {
		t.Errorf("%+v, want MIDI 63.2", notes)
	}
}

func TestLevels(t *testing.T) {
	const rate = 44100
	d := passage(t, []string{"-2", "[1 4]", "6"}, []float64{0, 1, 1.2, 2, 2.5, 4})
	for _, gain := range []float64{0.05, 1, 6} {
		x := Render(Play(d, 0, 1, 0), Set{Seed: 4}, rate)
		for i := range x {
			x[i] *= gain
		}
		y := append([]float64(nil), x...)
		Soften([][]float64{x, y}, rate)
		if got := loudness.Integrated([][]float64{x, y}, rate); got > Loudest+0.05 {
			t.Errorf("gain %g: %.2f LUFS", gain, got)
		}
		Even(x, rate)
		if got := loudness.Integrated([][]float64{x}, rate); math.Abs(got-(Loudest-3)) > 0.2 {
			t.Errorf("gain %g: one side has %.2f LUFS", gain, got)
		}
	}
	silence := make([]float64, rate)
	Even(silence, rate)
	if rms(silence) != 0 {
		t.Error("silence sounds")
	}
}

// Clicks lie on the beats through the first event; at 120 bpm half a second apart.
func TestClicks(t *testing.T) {
	d := passage(t, []string{"4"}, []float64{10.2, 11})
	if got := Clicks(d, 9, 1, 4); len(got) != 0 {
		t.Errorf("no tempo: %v", got)
	}
	d.BPM = 120
	want := []float64{0.4, 1.4, 2.4, 3.4}
	got := Clicks(d, 9, 0.5, 4)
	if len(got) != len(want) {
		t.Fatalf("%v, want %v", got, want)
	}
	for i, c := range got {
		if math.Abs(c.At-want[i]) > 1e-9 {
			t.Errorf("%v, want %v", got, want)
		}
	}
	d.Bars = []tab.Bar{{Number: 1, Start: 10}, {Number: 2, Start: 13}}
	d.Meter = "3/4"
	clicks := []Click{{0, false}, {1, true}, {2, false}, {3, false}, {4, true}}
	if got := Clicks(d, 9, 1, 5); !slices.Equal(got, clicks) {
		t.Errorf("%v, want %v", got, clicks)
	}
	x := make([]float64, 44100)
	AddClicks(x, 44100, []Click{{At: 0.4}, {At: 0.99}, {At: 7}})
	if rms(x[:17640]) != 0 || rms(x[17640:18000]) < 0.02 || rms(x[20000:43000]) != 0 {
		t.Error("the click is not where it should be")
	}
}

// marksOf plays draw 4 of an A harp from 1 to 2 s with marks, words as in a tab.
func marksOf(t *testing.T, marks ...tab.Mark) []Note {
	t.Helper()
	d := passage(t, []string{"-4"}, []float64{1, 2})
	d.Events[0].Marks = marks
	return Play(d, 0, 1, 0)
}

func TestMarks(t *testing.T) {
	const b4 = 71.0
	near := func(what string, n Note, at, want float64) {
		t.Helper()
		if got := 100 * (n.Pitch(at) - b4); math.Abs(got-want) > 2 {
			t.Errorf("%s: %.1f cents at %g s, want %g", what, got, at, want)
		}
	}
	scoop := marksOf(t, tab.Mark{Name: tab.Scoop, Cents: 120, Seconds: 0.2})[0]
	near("scoop", scoop, 1, -120)
	near("scoop", scoop, 1.25, 0)
	fall := marksOf(t, tab.Mark{Name: tab.Fall})[0]
	near("fall", fall, 1.5, 0)
	near("fall", fall, 2, -fallCents)
	dip := marksOf(t, tab.Mark{Name: tab.Dip, Cents: 70, Seconds: 0.3})[0]
	near("dip", dip, 1.2, 0)
	near("dip", dip, 1.5, -70)
	near("dip", dip, 1.8, 0)
	near("off pitch", marksOf(t, tab.Mark{Name: tab.OffPitch, Cents: 30})[0], 1.5, 30)
	vibrato := marksOf(t, tab.Mark{Name: tab.Vibrato, Hz: 5, Cents: 40})[0]
	near("vibrato", vibrato, 1.45, 40) // 2 1/4 swings
	near("vibrato", vibrato, 1.55, -40)
	hand := marksOf(t, tab.Mark{Name: tab.HandVibrato})[0]
	near("hand vibrato", hand, 1.55, 0)
	if hand.Gain(1.43)/hand.Gain(1.53) < 1.5 { // 5.2 Hz: up and down
		t.Errorf("hand vibrato: gain %.2f and %.2f", hand.Gain(1.43), hand.Gain(1.53))
	}
	plain, accent := marksOf(t)[0], marksOf(t, tab.Mark{Name: tab.Accent, DB: 6})[0]
	if math.Abs(accent.Level-plain.Level-6) > 1e-9 {
		t.Errorf("accent: level %g, plain %g", accent.Level, plain.Level)
	}
	slapped := marksOf(t, tab.Mark{Name: tab.Slap})
	if len(slapped) != 3 || slapped[1].Start != 1 || slapped[2].End > 1.06 ||
		slapped[1].Reed == slapped[0].Reed {
		t.Errorf("slap: %+v", slapped)
	}
}

func TestShake(t *testing.T) {
	d := passage(t, []string{"[-4 -5]"}, []float64{1, 2})
	d.Events[0].Marks = []tab.Mark{{Name: tab.Shake, Hz: 5}}
	for _, speed := range []float64{1, 0.5} {
		notes := Play(d, 0, speed, 0)
		if len(notes) != 10 {
			t.Fatalf("speed %g: %d notes, want 10", speed, len(notes))
		}
		for i, n := range notes {
			if math.Abs(n.Start-(1+0.1*float64(i))/speed) > 1e-9 || n.Reed != notes[i%2].Reed {
				t.Errorf("speed %g, note %d: %+v", speed, i, n)
			}
		}
	}
}
