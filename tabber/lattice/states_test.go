package lattice

import (
	"testing"

	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/harp/harptest"
	"blowdraw/tabber/tab"
)

var harpOf = harptest.Of

var usual = Classical().Priors

// find the state with that tab, nil if there is none.
func find(s States, token string) *State {
	for i := range s {
		if len(s[i].Actions) > 0 && tab.Token(s[i].Actions) == token {
			return &s[i]
		}
	}
	return nil
}

// The common harp (common practice, no source): 20 reeds, 8 draw and 4 blow bends
// in whole semitones, 6 overblows and 4 overdraws; 31 different notes without
// overbends, which leaves 9 of the axis's 40 rows.
func TestStatesOfSingleNotes(t *testing.T) {
	h := harpOf(t, "C", "richter")
	for _, c := range []struct {
		overbends                bool
		playable, overbent, none int
	}{{false, 32, 0, 9}, {true, 42, 10, 0}} {
		s := List(h, Choice{Overbends: c.overbends, Blow3: true}, usual)
		playable, overbent, none := 0, 0, 0
		rows := map[int]bool{}
		for i, x := range s {
			switch {
			case len(x.Rows) == 0 && i == 0:
				continue
			case len(x.Rows) != 1:
				t.Errorf("state %d has %d rows", i, len(x.Rows))
				continue
			case len(x.Actions) == 0:
				none++
				if x.Prior != usual.Unplayable || x.Breath != 0 {
					t.Errorf("unplayable row %d: %+v", x.Rows[0], x)
				}
			case x.Actions[0].Bend < 0:
				overbent++
				fallthrough
			default:
				playable++
			}
			rows[x.Rows[0]] = true
		}
		if len(rows) != pitch.Rows {
			t.Errorf("%d of %d rows have a state", len(rows), pitch.Rows)
		}
		if playable != c.playable || overbent != c.overbent || (!c.overbends && none != c.none) {
			t.Errorf(
				"overbends %v: %d playable (%d overbent) and %d unplayable states, want %+v",
				c.overbends,
				playable,
				overbent,
				none,
				c,
			)
		}
	}
}

// 9 double stops a breath, 21 with a bend on one side (draw bends reach 1 2 3 1 0
// 1 semitones, blow bends 1 1 2 on holes 8 to 10), 21 splits of 2 to 4 holes, 15
// chords of 3 and 4 holes.
func TestStatesOfSeveralReeds(t *testing.T) {
	s := List(harpOf(t, "A", "richter"), Choice{Blow3: true, Several: true}, usual)
	count := map[string]int{}
	bent := 0
	for _, x := range s {
		count[tab.Texture(x.Actions)]++
		if len(x.Actions) > 1 {
			for i, a := range x.Actions {
				if a.Breath != x.Actions[0].Breath {
					t.Errorf("%s has both breaths", tab.Token(x.Actions))
				}
				if i > 0 && a.Hole <= x.Actions[i-1].Hole {
					t.Errorf("%s is not ascending", tab.Token(x.Actions))
				}
				if a.Bend > 0 {
					bent++
				}
			}
		}
	}
	if count[tab.Single] != 32 || count[tab.Double] != 18+21 || bent != 21 || count[tab.Split] != 42 ||
		count[tab.Chord] != 30 {
		t.Errorf("%v, %d with a bend", count, bent)
	}
	for _, token := range []string{"[-4 -5]", "[-1 -4]", "[1 4]", "[1 2 3]", "[-3'' -4]"} {
		if find(s, token) == nil {
			t.Errorf("no state for %s", token)
		}
	}
	// The octave on draw 3 and 7 (B and B) against the minor seventh on 2 and 5.
	if a, b := find(s, "[-3 -7]"), find(s, "[-2 -6]"); a.Prior <= b.Prior {
		t.Errorf("the octave (%g) is no likelier than a split of a ninth (%g)", a.Prior, b.Prior)
	}
}

// Draw 2 stands for blow 3 too, whichever breath is heard, unless told otherwise;
// on a layout where their notes differ both are there.
func TestBlow3(t *testing.T) {
	for _, c := range []struct {
		layout string
		opt    Choice
		stands bool
	}{
		{"richter", Choice{}, true},
		{"richter", Choice{Blow3: true}, false},
		{"raised-blow-3", Choice{}, false},
	} {
		s := List(harpOf(t, "G", c.layout), c.opt, usual)
		if blow3 := find(s, "3"); (blow3 == nil) != c.stands {
			t.Errorf("%s, %+v: blow 3: %+v", c.layout, c.opt, blow3)
		}
		if draw2 := find(s, "-2"); draw2.Either != c.stands || draw2.Prior != 0 {
			t.Errorf("%s, %+v: draw 2: %+v", c.layout, c.opt, draw2)
		}
		if find(s, "-3").Either || find(s, "-2'").Either {
			t.Errorf("%s, %+v: another note stands for both breaths", c.layout, c.opt)
		}
	}
}

func TestMoves(t *testing.T) {
	s := List(harpOf(t, "C", "richter"), Choice{Several: true}, usual)
	m := Moves{Change: -1, Start: -2, Stop: -3, Breath: -0.5, Jump: -0.25, Farthest: -0.9}
	none := &s[0]
	for _, c := range []struct {
		from, to *State
		want     float64
	}{
		{none, find(s, "4"), -2},
		{none, find(s, "-4'"), -2 + usual.Bend},
		{find(s, "4"), none, -3},
		{find(s, "4"), find(s, "5"), -1},                            // next hole
		{find(s, "4"), find(s, "-4"), -1.5},                         // breath
		{find(s, "4"), find(s, "7"), -1.5},                          // two holes more than one
		{find(s, "1"), find(s, "10"), -1.9},                         // the farthest
		{find(s, "1"), find(s, "-10"), -2.4},                        // and breath
		{find(s, "4"), find(s, "[-4 -5]"), -1.5 + usual.Double},     // half a hole up
		{find(s, "[1 4]"), find(s, "6"), -1 - 0.25*(6-2.5-1)},       // from the middle of the split
		{find(s, "[-4 -5]"), find(s, "[-4 -5]"), -1 + usual.Double}, // again
	} {
		if got := m.cost(c.from, c.to); got < c.want-1e-9 || got > c.want+1e-9 {
			t.Errorf("%s to %s costs %g, want %g", tab.Token(c.from.Actions), tab.Token(c.to.Actions), got, c.want)
		}
	}
}

// Of each octave on the common harp both states are found from either; no other split,
// no bend and no silence is one (corners three holes apart on blow, 1 and 4, 3 and 7 to
// 6 and 10 on draw: common practice, no source).
func TestOctaveOf(t *testing.T) {
	s := List(harpOf(t, "C", "richter"), Choice{Several: true}, usual)
	index := func(token string) int {
		for i := range s {
			if len(s[i].Actions) > 0 && tab.Token(s[i].Actions) == token {
				return i
			}
		}
		t.Fatalf("no state %s", token)
		return 0
	}
	for low, both := range map[string]string{"1": "[1 4]", "-1": "[-1 -4]", "-3": "[-3 -7]", "-2": "[3 6]"} {
		for _, from := range []string{low, both} {
			a, b, ok := s.OctaveOf(index(from))
			if !ok || a != index(low) || b != index(both) {
				t.Errorf("octave of %s: states %d and %d, %v; want %s and %s", from, a, b, ok, low, both)
			}
		}
	}
	for _, token := range []string{"[-2 -5]", "-3'", "[4 5]", "10"} {
		if _, _, ok := s.OctaveOf(index(token)); ok {
			t.Errorf("%s is no side of an octave", token)
		}
	}
	if _, _, ok := s.OctaveOf(0); ok {
		t.Error("silence is no side of an octave")
	}
}

// What is not on the list gets a state once; what is stays one state.
func TestWith(t *testing.T) {
	h := harpOf(t, "C", "richter")
	s := List(h, Choice{Several: true}, usual)
	gap := []harp.Action{{Hole: 1}, {Hole: 2}, {Hole: 4}}
	wider := s.With(h, -3, gap)
	if len(wider) != len(s)+1 || wider.Playing(gap) != len(s) || s.Playing(gap) >= 0 {
		t.Errorf("%d states, then %d; the chord with a gap is %d", len(s), len(wider), wider.Playing(gap))
	}
	if again := wider.With(h, -3, gap); len(again) != len(wider) {
		t.Errorf("%d states after adding it twice, want %d", len(again), len(wider))
	}
}
