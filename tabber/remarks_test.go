package tabber

import (
	"math"
	"strings"
	"testing"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/harp/harptest"
	"blowdraw/tabber/presence"
	"blowdraw/tabber/tab"
)

// What makes a recording hard is told in players' words, worst numbers included.
func TestRemarks(t *testing.T) {
	for _, c := range []struct {
		condition presence.Condition
		cents     float64
		want      string
	}{
		{presence.Condition{}, 3, ""},
		{presence.Condition{HarpDB: 6.2, NoiseDB: -20, Bandwidth: 10000}, -5, "the harp stands above the band (+6 dB)"},
		{presence.Condition{HarpDB: -0.4, NoiseDB: -20, Bandwidth: 4210}, 0,
			"the harp is as loud as the band: expect mistakes (0 dB); no sound above 4.2 kHz"},
		{presence.Condition{HarpDB: 30, NoiseDB: -24.6, Bandwidth: 10000}, 0,
			"the harp plays all but alone (+30 dB); noise 25 dB below the harp"},
		{presence.Condition{HarpDB: math.NaN(), NoiseDB: -20, Bandwidth: 10000}, -50, "2.8% slow if the harp was tuned to A = 440 Hz"},
		{presence.Condition{HarpDB: -8, NoiseDB: -20, Bandwidth: 10000}, 70,
			"the harp is below the band: expect many mistakes (-8 dB); " +
				"4.1% fast if the harp was tuned to A = 440 Hz, going by the harp you named: with another key it would be less"},
	} {
		got := strings.Join(Result{Condition: c.condition, TuningCents: c.cents}.Remarks(), "; ")
		if got != c.want {
			t.Errorf("%+v, %g cents: %q, want %q", c.condition, c.cents, got, c.want)
		}
	}
}

// Many events that the harp does not have make it doubtful.
func TestWrongHarp(t *testing.T) {
	h := harptest.Of(t, "C", "richter")
	played := tab.Event{Actions: []harp.Action{{Breath: harp.Draw, Hole: 2}}}
	events := []tab.Event{played, played, played, played, played, played, {}}
	if w := (Result{Events: events}).WrongHarp(h); w != "" {
		t.Errorf("one stranger in seven: %q, want no warning", w)
	}
	if w := (Result{Events: append(events, tab.Event{})}).WrongHarp(h); !strings.HasPrefix(
		w,
		"2 of 8 notes are not on the C harp",
	) {
		t.Errorf("two strangers in eight: %q", w)
	}
}
