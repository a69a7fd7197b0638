package tabber

import (
	"math"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/render"
	"blowdraw/tabber/render/effect"
	"blowdraw/tabber/tab"
)

// shaken is a shake of two neighbouring holes with a note before and after it: rate
// times a second there and back; the hole that is left sounds on depth dB softer.
func shaken(
	t *testing.T,
	h harp.Harp,
	seed uint64,
	low, high string,
	rate, depth, seconds float64,
) decode.Clip {
	t.Helper()
	g := melody(t, h, []string{"-2", "", low, high, ""}, []float64{0.5, 0.2, seconds, seconds, 0.3})
	for i := range g[1:] {
		x := &g[1+i]
		x.Start, x.End = 1.1, 1.1+seconds
		half := 0.5 / rate
		for k := range int(seconds / half) {
			level := 0.0
			if k%2 != i {
				level = -depth
			}
			at := float64(k) * half
			x.Swell = append(
				x.Swell,
				render.Point{At: at + 0.008, Value: level},
				render.Point{At: at + half - 0.008, Value: level},
			)
		}
	}
	g = append(g, melody(t, h, []string{"4"}, []float64{0.5})...)
	g[3].Start, g[3].End = 1.3+seconds, 1.8+seconds
	clip, _ := played(h, render.Tuning{Cents: 4}, seed, g)
	return clip
}

// Shakes of four pairs of holes at three speeds and three depths, dry and in a room,
// are one event with both holes, its rate within 0.3 Hz and its ends within 0.15 s,
// nine times in ten.
func TestShake(t *testing.T) {
	h := harpOf(t, "A", "richter")
	right, all := 0, 0
	rates, depths := []float64{4.5, 6, 8}, []float64{6, 12, 40}
	if !thorough {
		rates, depths = rates[1:2], depths[1:2]
	}
	for i, pair := range [][2]string{{"-4", "-5"}, {"-3", "-4"}, {"4", "5"}, {"-6", "-7"}} {
		for _, rate := range rates {
			for _, depth := range depths {
				clip := shaken(t, h, uint64(i), pair[0], pair[1], rate, depth, 1.5)
				if i%2 == 1 {
					clip.Samples = effect.Reverb(clip.Samples, pitch.Rate, effect.Room{T60: 1, Direct: 4, Seed: 1})
				}
				tr, err := NewTranscriber(h, Options{})
				if err != nil {
					t.Fatal(err)
				}
				events := tr.Clip(clip).Events
				e := eventAt(events, 1.8)
				m, ok := e.Mark(tab.Shake)
				all++
				if ok && tab.Token(e.Actions) == "["+pair[0]+" "+pair[1]+"]" && math.Abs(m.Hz-rate) <= 0.3 &&
					math.Abs(e.Start-1.1) < 0.15 &&
					math.Abs(e.End-2.6) < 0.15 {
					right++
				} else {
					t.Logf("%v at %g Hz, %g dB deep: %s %+v from %.2f to %.2f s", pair, rate, depth, tab.Token(e.Actions), e.Marks, e.Start, e.End)
				}
			}
		}
	}
	if t.Logf("%d of %d shakes", right, all); float64(right) < 0.9*float64(all) {
		t.Errorf("%d of %d shakes found and measured right", right, all)
	}
}

// Two holes in turn at the speed of a slow triplet, held double stops and fast runs
// are no shakes.
func TestNoShake(t *testing.T) {
	h := harpOf(t, "A", "richter")
	for name, g := range map[string][]render.Gesture{
		"slow":   melody(t, h, []string{"-4", "-5", "-4", "-5", "-4", "-5", "-4", "-5"}, []float64{0.17}),
		"run":    melody(t, h, []string{"-2", "-3", "-4", "-5", "-6", "-5", "-4", "-3", "-2", "-3", "-4"}, []float64{0.1}),
		"double": {{Start: 0.4, End: 2, Actions: append(melody(t, h, []string{"-4"}, []float64{1})[0].Actions, melody(t, h, []string{"-5"}, []float64{1})[0].Actions...), VibratoHz: 6, VibratoCents: 30, VibratoDB: 3}},
	} {
		for _, e := range transcribed(t, 2, g) {
			if _, ok := e.Mark(tab.Shake); ok {
				t.Errorf("%s: %s is a shake", name, tab.Token(e.Actions))
			}
		}
	}
}
