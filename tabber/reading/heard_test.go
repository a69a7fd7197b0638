package reading

import (
	"slices"
	"testing"

	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/tab"
)

// rising are frames in which rows of blow 4 and 5 sound, each 20 dB softer before a frame.
func rising(r Reader, first, second int) (pitch.Frames, lattice.Span) {
	f := pitch.NewFrames(pitch.Axis{Base: r.Harp.Base}, 0, 60)
	f.Loud = make([]float32, 60*pitch.Rows)
	for i := range f.Loud {
		f.Loud[i] = -120
	}
	rows := []int{lattice.Row(r.Harp, harp.Action{Hole: 4}), lattice.Row(r.Harp, harp.Action{Hole: 5})}
	for k := range 60 {
		for i, begin := range []int{first, second} {
			f.Loud[k*pitch.Rows+rows[i]] = -10
			if k < begin {
				f.Loud[k*pitch.Rows+rows[i]] = -30
			}
		}
	}
	both := []harp.Action{{Hole: 4}, {Hole: 5}}
	return f, lattice.Span{State: r.States.Playing(both), From: 10, To: 50, Found: 10}
}

// Reeds that are heard more than lateReed frames after others begin a span of their own with
// them; sooner ones, and what would be too short, do not.
func TestParted(t *testing.T) {
	r := readerC(t)
	alone := func(hole int) int { return r.States.Playing([]harp.Action{{Hole: hole}}) }
	for _, c := range []struct {
		name          string
		first, second int // frames at which blow 4 and 5 are heard
		alone         int // hole that is played alone first; 0 for none
	}{
		{"together", 10, 10, 0},
		{"soon after", 10, 16, 0},
		{"late", 10, 17, 4},
		{"later", 10, 30, 4},
		{"the lower one late", 30, 10, 5},
		{"both late", 20, 20, 0},
		{"at the very end", 10, 45, 0},
	} {
		f, s := rising(r, c.first, c.second)
		want := []Span{{Span: s, Octave: 2}}
		if c.alone > 0 {
			early, all := Span{
				Span:   s,
				Parted: true,
				Whole:  s.State,
			}, Span{
				Span:   s,
				Octave: 2,
				Parted: true,
				Whole:  s.State,
			}
			early.State, early.To = alone(c.alone), max(c.first, c.second)
			all.From = early.To
			want = []Span{early, all}
		}
		if got := r.Parted(f, []Span{{Span: s, Octave: 2}}); !slices.Equal(got, want) {
			t.Errorf("%s: %v, want %v", c.name, got, want)
		}
	}
}

// A reed that falls far under another before that one ends leaves it behind: its part is the
// other's. One that goes a little earlier, and one that is never heard with the other for long,
// does not.
func TestPartedLeaving(t *testing.T) {
	r := readerC(t)
	four := r.States.Playing([]harp.Action{{Hole: 4}})
	for _, c := range []struct {
		name        string
		enter, gone int     // frames between which blow 5 is heard
		under       float32 // dB by which it is softer outside
		want        []int   // borders of the parts
	}{
		{"to the end", 10, 50, 20, []int{10, 50}},
		{"a little earlier", 10, 44, 20, []int{10, 50}},
		{"early", 10, 40, 20, []int{10, 40, 50}},
		{"early, but not far under", 10, 40, 12, []int{10, 50}},
		{"late and early", 22, 40, 20, []int{10, 22, 40, 50}},
		{"hardly with the other", 28, 33, 20, []int{10, 50}},
	} {
		f, s := rising(r, 10, 10)
		row := lattice.Row(r.Harp, harp.Action{Hole: 5})
		for k := range f.N {
			if k < c.enter || k >= c.gone {
				f.Loud[k*pitch.Rows+row] = -10 - c.under
			}
		}
		var borders []int
		for _, p := range r.Parted(f, []Span{{Span: s}}) {
			if all := p.From >= c.enter && p.To <= c.gone; p.Parted && all != (p.State == s.State) {
				t.Errorf("%s: frames %d to %d are in state %d", c.name, p.From, p.To, p.State)
			} else if p.Parted && !all && p.State != four {
				t.Errorf("%s: frames %d to %d are not the other reed's", c.name, p.From, p.To)
			}
			borders = append(borders, p.From)
		}
		if borders = append(borders, s.To); !slices.Equal(borders, c.want) {
			t.Errorf("%s: parts at %v, want %v", c.name, borders, c.want)
		}
	}
}

// A start is looked for mostLate frames long, and leaves the shortest note; without levels
// it is where it was.
func TestHeardFrom(t *testing.T) {
	r := readerC(t)
	f, s := rising(r, 22, 22)
	rows := r.States[s.State].Rows
	if got := heardFrom(f, rows, 0, 10, 50); got != 22 {
		t.Errorf("heard from frame %d, want 22", got)
	}
	f, _ = rising(r, 49, 49)
	if got := heardFrom(f, rows[:1], 0, 10, 50); got != 10 {
		t.Errorf("loud for a moment at the end: heard from frame %d, want 10, where its usual level is", got)
	}
	f, _ = rising(r, 22, 22)
	for k := 14; k < 22; k++ { // a slide from the semitone below blow 4
		f.Loud[k*pitch.Rows+rows[0]-1] = -10
	}
	if a, b := heardFrom(f, rows[:1], 1, 10, 50), heardFrom(f, rows[:1], 0, 10, 50); a != 14 || b != 22 {
		t.Errorf("a note that slides up is heard from frame %d, without its slide %d, want 14 and 22", a, b)
	}
	f.Loud = nil
	if got := heardFrom(f, rows, 0, 10, 50); got != 10 {
		t.Errorf("without levels: heard from frame %d, want 10", got)
	}
}

// A note of which three fifths are 15 dB under the rest starts where the rest does: its level is
// that of its loudest quarter, not of the half that is soft.
func TestHeardStartOfSwell(t *testing.T) {
	r := readerC(t)
	f, _ := rising(r, 40, 60)
	row := lattice.Row(r.Harp, harp.Action{Hole: 4})
	for k := 10; k < 40; k++ {
		f.Loud[k*pitch.Rows+row] = -25
	}
	e := tab.Event{Start: f.Time(10), End: f.Time(60), Actions: []harp.Action{{Hole: 4}}}
	if got, want := r.HeardStart(f, e), f.Time(40); got != want {
		t.Errorf("starts at %.3f s, want %.3f", got, want)
	}
}
