package beats

import (
	"math/rand/v2"
	"testing"

	"blowdraw/decode"
	"blowdraw/onset"
	"blowdraw/onset/beat"
	"blowdraw/onset/form"
	"blowdraw/pitch"
	"blowdraw/tabber/harp/harptest"
	"blowdraw/tabber/tab"
)

// knocks are short bursts of noise, a beat apart, over quieter noise.
func knocks(seconds, beat float64) decode.Clip {
	r := rand.New(rand.NewPCG(1, 2))
	x := make([]float64, int(seconds*pitch.Rate))
	hop := int(beat * pitch.Rate)
	for i := range x {
		level := 0.001
		if i%hop < pitch.Rate/50 {
			level = 0.5
		}
		x[i] = level * r.NormFloat64()
	}
	return decode.Clip{Rate: pitch.Rate, Samples: x}
}

// Heard window by window, the onset strength is what it is heard at once.
func TestStrengthOfWindows(t *testing.T) {
	clip := knocks(12, 0.6)
	want := onset.Strength(clip.Samples, pitch.Rate, pitch.Hop)
	var track Track
	for _, w := range [][2]int{{0, 300}, {250, 600}, {590, len(want) + 1}} {
		to := min(w[1]*pitch.Hop, len(clip.Samples))
		track.Add(decode.Clip{
			Rate: pitch.Rate, Start: float64(w[0]) * pitch.HopSeconds, Samples: clip.Samples[w[0]*pitch.Hop : to],
		})
	}
	if len(track.strength) != len(want) {
		t.Fatalf("%d values, want %d", len(track.strength), len(want))
	}
	for i := range want {
		if track.strength[i] != float32(want[i]) {
			t.Fatalf("value %d is %g, want %g", i, track.strength[i], want[i])
		}
	}
}

// The tempo is the one that is asked for, that of the taps, or measured; taps are moved by
// the delay that is told.
func TestTempo(t *testing.T) {
	clip := knocks(12, 0.6) // 100 a minute
	var track Track
	track.Add(clip)
	h := Heard{Harp: harptest.Of(t, "C", "richter"), To: 12}
	for i := range 20 {
		at := 0.6 * float64(i)
		h.Events = append(h.Events, tab.Event{Start: at, End: at + 0.3})
	}
	late := 0.1
	var taps []float64
	for i := range 9 {
		taps = append(taps, late+1.2*float64(i))
	}
	for _, c := range []struct {
		name  string
		asked Asked
		bpm   float64
		delay float64
	}{
		{"measured", Asked{}, 100, 0},
		{"given", Asked{BPM: 50}, 50, 0},
		{"tapped", Asked{Taps: taps, TapDelay: &late}, 50, late},
	} {
		got := track.Find(h, c.asked)
		if d := got.Tempo.BPM - c.bpm; d < -1 || d > 1 || got.TapDelay != c.delay {
			t.Errorf("%s: %.1f beats a minute, %.2f s late, want %.0f and %.2f",
				c.name, got.Tempo.BPM, got.TapDelay, c.bpm, c.delay)
		}
		if c.name == "tapped" && (len(got.Tempo.Beats) == 0 || got.Tempo.Beats[0] > 0.05) {
			t.Errorf("tapped: beats %v begin where they were tapped, want %g s earlier", got.Tempo.Beats, late)
		}
	}
}

// Bars are numbered from the one that was given, or that begins the form; one that begins where
// the section ends is left out.
func TestLaid(t *testing.T) {
	f := Found{
		Tempo: beat.Result{BPM: 60, Feel: beat.Triplet},
		Bars: form.Bars{
			Beats: []float64{0, 1, 2, 3, 4, 5, 6, 7, 8}, Firsts: []int{0, 4, 8}, Sure: 0.9, One: 1,
			Each: []float64{0.6, 0.95, 0.95},
		},
	}
	d := f.Laid(tab.Document{To: 8}, "")
	if d.Meter != "12/8" || d.BPM != 60 || len(d.Bars) != 2 {
		t.Fatalf("meter %s, %g beats a minute, %d bars, want 12/8, 60 and 2", d.Meter, d.BPM, len(d.Bars))
	}
	if b := d.Bars[0]; b.Number != 0 || b.Start != 0 || b.Confidence != 0.6 {
		t.Errorf("the bar before the first: %+v", b)
	}
	if b := d.Bars[1]; b.Number != 1 || b.Start != 4 || b.Confidence != 0.9 {
		t.Errorf("bar 1: %+v", b)
	}
	f.Bars.Sure = form.SureFrom - 0.01
	if d := f.Laid(tab.Document{To: 8}, "3/4"); d.Bars != nil || d.Meter != "3/4" {
		t.Errorf("unsure bars are laid: %v in %s", d.Bars, d.Meter)
	}
}
