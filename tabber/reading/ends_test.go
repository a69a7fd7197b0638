package reading

import (
	"slices"
	"testing"

	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/harp/harptest"
	"blowdraw/tabber/lattice"
)

type span = lattice.Span

// at is a span of a state over frames [from, to).
func at(state, from, to int) span { return span{State: state, From: from, To: to} }

// joinedAt is a span that the search found to begin at a frame.
func joinedAt(state, from, to, found int) span {
	return span{State: state, From: from, To: to, Found: found}
}

// heard makes frames in which row 5 sounds with the given probability and level.
func heard(sounding, level []float32) pitch.Frames {
	f := pitch.NewFrames(pitch.Axis{Base: 60}, 0, len(sounding))
	f.Loud = make([]float32, len(sounding)*pitch.Rows)
	for i := range sounding {
		f.Sounding[i*pitch.Rows+5], f.Loud[i*pitch.Rows+5] = sounding[i], level[i]
	}
	return f
}

func fill32(parts ...[2]float32) []float32 { // {count, value}
	var out []float32
	for _, p := range parts {
		for range int(p[0]) {
			out = append(out, p[1])
		}
	}
	return out
}

func TestTrimmed(t *testing.T) {
	r := Reader{States: lattice.States{{}, {Rows: []int{5}}}, Ends: LearnedEnds()}
	for _, c := range []struct {
		name            string
		sounding, level []float32
		to, want        int
	}{
		{"a tail that falls is cut", fill32([2]float32{40, 1}, [2]float32{20, 0.8}), fill32([2]float32{40, -10}, [2]float32{20, -20}), 60, 40},
		{"a note as loud as before is held", fill32([2]float32{40, 1}, [2]float32{20, 0.3}), fill32([2]float32{60, -10}), 40, 60},
		{"not where the ear is sure it ended", fill32([2]float32{40, 1}, [2]float32{20, 0.02}), fill32([2]float32{60, -10}), 40, 40},
		{"not where the level has fallen", fill32([2]float32{40, 1}, [2]float32{20, 0.3}), fill32([2]float32{40, -10}, [2]float32{20, -16}), 40, 40},
	} {
		f := heard(c.sounding, c.level)
		got := r.trimmed(f, []span{{State: 1, To: c.to}})[0].To
		if got != c.want {
			t.Errorf("%s: ends at frame %d, want %d", c.name, got, c.want)
		}
	}
}

func TestJoined(t *testing.T) {
	r := Reader{
		States: lattice.States{
			{},
			{Breath: pitch.Blowing, Rows: []int{5}},
			{Breath: pitch.Blowing, Rows: []int{5, 9}},
			{Breath: pitch.Blowing, Rows: []int{7}},
		},
		Ends: LearnedEnds(),
	}
	for _, c := range []struct {
		name   string
		attack float32 // of row 5 where the second span begins
		spans  []span
		want   []span
	}{
		{"a reed that speaks in two steps", 1, []span{at(1, 10, 14), at(1, 14, 40)}, []span{at(1, 10, 40)}},
		{"two strokes of the tongue", 1, []span{at(1, 10, 16), at(1, 16, 40)}, nil},
		{"two strokes as close as players make them", 1, []span{at(1, 10, 15), at(1, 15, 40)}, nil},
		{"a gap between", 1, []span{at(1, 10, 13), at(1, 14, 40)}, nil},
		{"another note", 1, []span{at(1, 10, 14), at(3, 14, 40)}, nil},
		{"a second reed joins", 0, []span{at(1, 10, 18), at(2, 18, 40)}, []span{joinedAt(2, 10, 40, 18)}},
		{"a second reed as the first begins again", 1, []span{at(1, 10, 18), at(2, 18, 40)}, nil},
		{"a second reed, too soon to begin again", 1, []span{at(1, 10, 14), at(2, 14, 40)}, []span{joinedAt(2, 10, 40, 14)}},
	} {
		f := heard(fill32([2]float32{60, 1}), fill32([2]float32{60, -10}))
		f.Attack[c.spans[1].From*pitch.Rows+5] = c.attack
		want := c.want
		if want == nil {
			want = slices.Clone(c.spans)
		}
		if got := r.merged(f, slices.Clone(c.spans)); !slices.Equal(got, want) {
			t.Errorf("%s: %v, want %v", c.name, got, want)
		}
	}
}

func TestLeadsIn(t *testing.T) {
	r := Reader{
		States: lattice.States{
			{},
			{Breath: pitch.Blowing, Rows: []int{5}},
			{Breath: pitch.Blowing, Rows: []int{5, 9}},
		},
		Ends: LearnedEnds(),
	}
	for _, c := range []struct {
		name  string
		level float32 // dB of the first reed by itself
		want  []span
	}{
		{"a reed that speaks on the way in", -30, []span{at(2, 18, 40)}},
		{"a note before", -18, []span{at(1, 10, 18), at(2, 18, 40)}},
	} {
		f := heard(fill32([2]float32{60, 1}), fill32([2]float32{18, c.level}, [2]float32{42, -10}))
		f.Attack[18*pitch.Rows+5] = 1
		spans := []span{at(1, 10, 18), at(2, 18, 40)}
		if got := r.merged(f, spans); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

func TestFalls(t *testing.T) {
	h := harptest.Of(t, "A", "richter")
	r := New(h, lattice.Choice{Several: true})
	stateOf := func(bend int) int {
		return r.States.Playing([]harp.Action{{Breath: harp.Draw, Hole: 4, Bend: bend}})
	}
	plain, bent := stateOf(0), stateOf(1)
	for _, c := range []struct {
		name   string
		cents  float32 // of the second span above the bend
		attack float32
		to     int
		want   bool
	}{
		{"short of the bend", 40, 0, 32, true},
		{"the bend itself", 5, 0, 32, false},
		{"begun anew", 40, 1, 32, false},
		{"held", 40, 0, 60, false},
	} {
		f := pitch.NewFrames(pitch.Axis{Base: h.Base}, 0, 60)
		row := r.States[bent].Rows[0]
		for k := 20; k < c.to; k++ {
			f.Cents[k*pitch.Rows+row], f.Sounding[k*pitch.Rows+row] = c.cents, 1
		}
		f.Attack[20*pitch.Rows+row] = c.attack
		if got := r.falls(f, span{State: plain, From: 0, To: 20}, span{State: bent, From: 20, To: c.to}); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}

func TestScooped(t *testing.T) {
	r := New(harptest.Of(t, "A", "richter"), lattice.Choice{Several: true})
	stateOf := func(actions ...harp.Action) int { return r.States.Playing(actions) }
	draw := func(hole, bend int) harp.Action { return harp.Action{Breath: harp.Draw, Hole: hole, Bend: bend} }
	bent, deep, plain := stateOf(draw(3, 1)), stateOf(draw(3, 3)), stateOf(draw(3, 0))
	for _, c := range []struct {
		name        string
		first, next int
		at          int // frame where the second begins
		want        bool
	}{
		{"a deep bend let go at once", deep, plain, 3, true},
		{"let go into a shallower one", deep, bent, 4, true},
		{"let go into two holes", deep, stateOf(draw(3, 0), draw(4, 0)), 3, true},
		{"held", deep, plain, 5, false},
		{"a bend that deepens", bent, deep, 3, false},
		{"another hole", deep, stateOf(draw(4, 0)), 3, false},
		{"no bend", plain, bent, 3, false},
	} {
		if got := r.scooped(span{State: c.first, To: c.at}, span{State: c.next, From: c.at, To: 60}); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}
