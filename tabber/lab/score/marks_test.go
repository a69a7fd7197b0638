package score

import (
	"math"
	"reflect"
	"testing"

	"blowdraw/tabber/tab"
)

// Worked by hand: of three vibratos two are found and one is invented, on an event
// that the truth does not have; rate and extent count where they were found.
func TestMarks(t *testing.T) {
	with := func(start, hz, cents float64) tab.Event {
		return tab.Event{Start: start, End: start + 0.5,
			Marks: []tab.Mark{{Name: tab.Scoop}, {Name: tab.Vibrato, Hz: hz, Cents: cents}}}
	}
	ref := []tab.Event{with(1, 5, 20), with(2, 6, 40), {Start: 3, End: 4}, with(5, 5, 10)}
	est := []tab.Event{with(1.04, 5.2, 25), with(2, 5.5, 30), {Start: 3, End: 4}, with(4, 5, 10),
		{Start: 5, End: 6}}
	s := Marks(ref, est, tab.Vibrato, 0.05)
	if s.Found != 2 || s.Ref != 3 || s.Est != 3 || math.Abs(s.F()-2.0/3) > 1e-9 {
		t.Errorf("%+v, F %g", s, s.F())
	}
	for i, want := range []float64{0.2, 0.5} {
		if math.Abs(s.Rate[i]-want) > 1e-9 {
			t.Errorf("rate errors %v", s.Rate)
		}
	}
	if want := []float64{0.25, 0.25}; !reflect.DeepEqual(s.Extent, want) {
		t.Errorf("extent errors %v, want %v", s.Extent, want)
	}
	s.Add(Marks(ref, nil, tab.Vibrato, 0.05))
	if s.Found != 2 || s.Ref != 6 || s.Est != 3 {
		t.Errorf("added: %+v", s)
	}
	if f := Marks(ref[2:3], est, tab.Vibrato, 0.05).F(); !math.IsNaN(f) {
		t.Errorf("F without any to find is %g", f)
	}
}
