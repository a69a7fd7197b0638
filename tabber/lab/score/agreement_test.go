package score

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/lab/truth"
	"blowdraw/tabber/tab"
)

// annotated is a truth of four events in seven seconds, of which the third is not agreed
// on, and nobody could make out what is played from 5.5 to 6.5.
func annotated() truth.File {
	no, yes := false, true
	return truth.File{
		Harp: "C", Layout: "richter", Tier: "real", Unheard: [][2]float64{{5.5, 6.5}},
		Events: []truth.Event{
			{Start: 1, End: 1.5, Breath: "draw", Holes: []int{2}, Bends: []float64{0}},
			{Start: 2, End: 3.08, Breath: "blow", Holes: []int{4, 5}, Bends: []float64{0, 0}, Sure: &yes},
			{Start: 4, End: 5, Breath: "draw", Holes: []int{4}, Bends: []float64{1}, Sure: &no},
			{Start: 6.6, End: 7, Breath: "draw", Holes: []int{6}, Bends: []float64{0}, Sure: &yes},
		},
	}
}

func act(b harp.Breath, bend int, holes ...int) (out []harp.Action) {
	for _, h := range holes {
		out = append(out, harp.Action{Breath: b, Hole: h, Bend: bend})
	}
	return out
}

// Every figure worked out by hand.
func TestAgree(t *testing.T) {
	est := []tab.Event{
		{Start: 1.05, End: 1.4, Confidence: 0.95, Actions: act(harp.Blow, 0, 3)},   // the twin of draw 2: right
		{Start: 2.15, End: 2.6, Confidence: 0.9, Actions: act(harp.Blow, 0, 4, 5)}, // too late to be right
		{Start: 2.6, End: 3.1, Confidence: 0.3, Actions: act(harp.Blow, 0, 4)},
		{Start: 4.02, End: 5, Confidence: 0.92, Actions: act(harp.Draw, 1, 4)}, // right, nobody agrees
		{Start: 5.2, End: 5.3, Confidence: 0.2, Actions: act(harp.Draw, 0, 4)}, // extra
		{Start: 5.8, End: 6, Confidence: 1, Actions: act(harp.Draw, 0, 1)},     // where nobody could hear: left out
	}
	a, err := Agree(annotated(), est)
	if err != nil {
		t.Fatal(err)
	}
	if a.Events != 4 || a.Agreed != 3 || a.Written != 5 || a.EventsFound != 2 || a.AgreedFound != 1 {
		t.Errorf("%+v", a)
	}
	// Time: 42 steps of the first event, 1.04 to 1.46, of which 1.05 to 1.4 are right; 100
	// of the second, 2.04 to 3.04, of which 2.15 to 2.6; 32 of the last.
	for _, c := range []struct {
		name string
		f    Figure
		want float64
		near float64 // a step at either end, where times are not whole steps in binary
	}{
		{"right", a.Right(), 1. / 3, 1e-9},
		{"F", a.F(), 4. / 9, 1e-9},
		{"time right", a.TimeRight(), (35. + 45) / 174, 0.02},
		{"time of pitches", a.TimePitch(), (35. + 45) / 174, 0.02},
		{"extra a minute", a.ExtraAMinute(), 1 / (7. / 60), 1e-9},
		{"sure is right", a.SureIsRight(), 1. / 2, 1e-9}, // in agreed events: 0.95 right, 0.9 not
		{"sure of", a.SureShare(), 3. / 5, 1e-9},
		// Inside agreed events 0.95 (right) and 0.9 (wrong) in one bin, 0.3 (wrong) in another.
		{"calibration", a.CalibrationError(), (math.Abs(0.95+0.9-1) + 0.3) / 3, 1e-9},
	} {
		if v, ok := c.f.Value(); !ok || math.Abs(v-c.want) > c.near {
			t.Errorf("%s: %g, want %g", c.name, v, c.want)
		}
	}
	if want := []float64{0.05, 0.15}; !near(a.Starts, want) {
		t.Errorf("starts late by %v, want %v", a.Starts, want)
	}
	if want := []float64{-0.1, -0.48}; !near(a.Ends, want) {
		t.Errorf("ends late by %v, want %v", a.Ends, want)
	}
	two := Sum([]Agreement{a, a})
	if v, _ := two.ExtraAMinute().Value(); two.Events != 8 || len(two.Starts) != 4 || len(two.Verdicts) != 6 ||
		math.Abs(v-60./7) > 1e-9 {
		t.Errorf("of two: %+v", two)
	}
}

func near(a, b []float64) bool {
	return slices.EqualFunc(a, b, func(x, y float64) bool { return math.Abs(x-y) < 1e-9 })
}

// An event of several reeds whose pitches sound elsewhere on the harp: right in pitch only.
func TestAgreePitches(t *testing.T) {
	ref := truth.File{Harp: "C", Layout: "richter", Events: []truth.Event{
		{Start: 0, End: 1, Breath: "draw", Holes: []int{1, 2}, Bends: []float64{0, 0}},
	}}
	// Draw 2 and blow 3 are one note, alone and with others; draw 1 has no twin.
	est := []tab.Event{{Start: 0, End: 1, Actions: []harp.Action{{Breath: harp.Draw, Hole: 1},
		{Breath: harp.Blow, Hole: 3}}}}
	a, err := Agree(ref, est)
	if err != nil || a.StepsRight != 0 || a.PitchesRight != a.Steps || a.Steps == 0 {
		t.Errorf("%+v, %v", a, err)
	}
}

// Nothing written has no figures of what is written.
func TestAgreeWithNothing(t *testing.T) {
	a, err := Agree(annotated(), nil)
	if err != nil {
		t.Fatal(err)
	}
	for name, f := range map[string]Figure{"sure": a.SureIsRight(), "sure of": a.SureShare(),
		"calibration": a.CalibrationError()} {
		if v, ok := f.Value(); ok {
			t.Errorf("%s of nothing is %g", name, v)
		}
	}
	if v, ok := a.Right().Value(); !ok || v != 0 {
		t.Errorf("right: %g, %v", v, ok)
	}
	if _, err := Agree(truth.File{Harp: "H", Layout: "richter"}, nil); err == nil {
		t.Error("a harp that is not known: no error")
	}
}

// By hand: bins 0.9 to 1 with 0.95, 0.95, 1.0 said and one right, 0.2 to 0.3, 0.3 to 0.4.
func TestCalibrationError(t *testing.T) {
	vs := []Verdict{{0.95, true}, {0.95, false}, {1, false}, {0.2, false}, {0.3, true}}
	if e, want := CalibrationError(vs), (1.9+0.2+0.7)/5; math.Abs(e-want) > 1e-12 {
		t.Errorf("%g, want %g", e, want)
	}
	if e := CalibrationError(nil); e != 0 {
		t.Errorf("of nothing %g", e)
	}
}

// Of two clips a draw has the mean 0, 1/2 or 1, one time in four each end. Of many the
// spread is that of the normal distribution: 1.645 standard errors to either side.
func TestBootstrap(t *testing.T) {
	mean := func(x []float64) Figure {
		sum := 0.0
		for _, v := range x {
			sum += v
		}
		return Figure{sum, float64(len(x))}
	}
	if low, high, ok := Bootstrap([]float64{0, 1}, mean); !ok || low != 0 || high != 1 {
		t.Errorf("of 0 and 1: %g to %g, %v", low, high, ok)
	}
	if low, high, ok := Bootstrap([]float64{0.7, 0.7, 0.7}, mean); !ok || math.Abs(low-0.7) > 1e-9 ||
		math.Abs(high-0.7) > 1e-9 {
		t.Errorf("of three alike: %g to %g, %v", low, high, ok)
	}
	rng := rand.New(rand.NewPCG(3, 4))
	x := make([]float64, 400)
	for i := range x {
		x[i] = 5 + 2*rng.NormFloat64()
	}
	low, high, ok := Bootstrap(x, mean)
	if want := 2 * 1.645 * 2 / 20; !ok || math.Abs(high-low-want) > 0.15*want {
		t.Errorf("of 400 normal ones %g wide, want %g", high-low, want)
	}
	if _, _, ok := Bootstrap(x, func([]float64) Figure { return Figure{} }); ok {
		t.Error("a spread of no figures")
	}
	if _, _, ok := Bootstrap(nil, mean); ok {
		t.Error("a spread of no clips")
	}
}

func TestMiddle(t *testing.T) {
	v := []float64{20, 3, 1, 2, 4, 5, 6, 7, 8, 9}
	if m, low, high, ok := Middle(v); !ok || m != 5.5 || low != 2 || high != 9 {
		t.Errorf("%g, %g to %g, %v", m, low, high, ok)
	}
	if m, low, high, ok := Middle([]float64{3}); !ok || m != 3 || low != 3 || high != 3 {
		t.Errorf("of one: %g, %g to %g, %v", m, low, high, ok)
	}
	if _, _, _, ok := Middle(nil); ok {
		t.Error("a median of nothing")
	}
}
