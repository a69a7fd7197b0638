package tabber

import (
	"testing"

	"blowdraw/pitch"
	"blowdraw/tabber/harp/harptest"
	"blowdraw/tabber/tab"
)

var harpOf = harptest.Of

// find the state with that tab, nil if there is none.
func find(s []state, token string) *state {
	for i := range s {
		if len(s[i].actions) > 0 && tab.Token(s[i].actions) == token {
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
		s := states(h, Options{Overbends: c.overbends, Blow3: true}, usual, false)
		playable, overbent, none := 0, 0, 0
		rows := map[int]bool{}
		for i, x := range s {
			switch {
			case len(x.rows) == 0 && i == 0:
				continue
			case len(x.rows) != 1:
				t.Errorf("state %d has %d rows", i, len(x.rows))
				continue
			case len(x.actions) == 0:
				none++
				if x.prior != usual.unplayable || x.breath != 0 {
					t.Errorf("unplayable row %d: %+v", x.rows[0], x)
				}
			case x.actions[0].Bend < 0:
				overbent++
				fallthrough
			default:
				playable++
			}
			rows[x.rows[0]] = true
		}
		if len(rows) != pitch.Rows {
			t.Errorf("%d of %d rows have a state", len(rows), pitch.Rows)
		}
		if playable != c.playable || overbent != c.overbent || (!c.overbends && none != c.none) {
			t.Errorf("overbends %v: %d playable (%d overbent) and %d unplayable states, want %+v", c.overbends, playable, overbent, none, c)
		}
	}
}

// 9 double stops a breath, 21 with a bend on one side (draw bends reach 1 2 3 1 0
// 1 semitones, blow bends 1 1 2 on holes 8 to 10), 21 splits of 2 to 4 holes, 15
// chords of 3 and 4 holes.
func TestStatesOfSeveralReeds(t *testing.T) {
	s := states(harpOf(t, "A", "richter"), Options{Blow3: true}, usual, true)
	count := map[string]int{}
	bent := 0
	for _, x := range s {
		count[tab.Texture(x.actions)]++
		if len(x.actions) > 1 {
			for i, a := range x.actions {
				if a.Breath != x.actions[0].Breath {
					t.Errorf("%s has both breaths", tab.Token(x.actions))
				}
				if i > 0 && a.Hole <= x.actions[i-1].Hole {
					t.Errorf("%s is not ascending", tab.Token(x.actions))
				}
				if a.Bend > 0 {
					bent++
				}
			}
		}
	}
	if count[tab.Single] != 32 || count[tab.Double] != 18+21 || bent != 21 || count[tab.Split] != 42 || count[tab.Chord] != 30 {
		t.Errorf("%v, %d with a bend", count, bent)
	}
	for _, token := range []string{"[-4 -5]", "[-1 -4]", "[1 4]", "[1 2 3]", "[-3'' -4]"} {
		if find(s, token) == nil {
			t.Errorf("no state for %s", token)
		}
	}
	// The octave on draw 3 and 7 (B and B) against the minor seventh on 2 and 5.
	if a, b := find(s, "[-3 -7]"), find(s, "[-2 -6]"); a.prior <= b.prior {
		t.Errorf("the octave (%g) is no likelier than a split of a ninth (%g)", a.prior, b.prior)
	}
}

// Draw 2 stands for blow 3 too, whichever breath is heard, unless told otherwise;
// on a layout where their notes differ both are there.
func TestBlow3(t *testing.T) {
	for _, c := range []struct {
		layout string
		opt    Options
		stands bool
	}{
		{"richter", Options{}, true},
		{"richter", Options{Blow3: true}, false},
		{"raised-blow-3", Options{}, false},
	} {
		s := states(harpOf(t, "G", c.layout), c.opt, usual, false)
		if blow3 := find(s, "3"); (blow3 == nil) != c.stands {
			t.Errorf("%s, %+v: blow 3: %+v", c.layout, c.opt, blow3)
		}
		if draw2 := find(s, "-2"); draw2.either != c.stands || draw2.prior != 0 {
			t.Errorf("%s, %+v: draw 2: %+v", c.layout, c.opt, draw2)
		}
		if find(s, "-3").either || find(s, "-2'").either {
			t.Errorf("%s, %+v: another note stands for both breaths", c.layout, c.opt)
		}
	}
}

func TestMoves(t *testing.T) {
	s := states(harpOf(t, "C", "richter"), Options{}, usual, true)
	m := moves{change: -1, start: -2, stop: -3, breath: -0.5, jump: -0.25, farthest: -0.9}
	none := &s[0]
	for _, c := range []struct {
		from, to *state
		want     float64
	}{
		{none, find(s, "4"), -2},
		{none, find(s, "-4'"), -2 + usual.bend},
		{find(s, "4"), none, -3},
		{find(s, "4"), find(s, "5"), -1},                            // next hole
		{find(s, "4"), find(s, "-4"), -1.5},                         // breath
		{find(s, "4"), find(s, "7"), -1.5},                          // two holes more than one
		{find(s, "1"), find(s, "10"), -1.9},                         // the farthest
		{find(s, "1"), find(s, "-10"), -2.4},                        // and breath
		{find(s, "4"), find(s, "[-4 -5]"), -1.5 + usual.double},     // half a hole up
		{find(s, "[1 4]"), find(s, "6"), -1 - 0.25*(6-2.5-1)},       // from the middle of the split
		{find(s, "[-4 -5]"), find(s, "[-4 -5]"), -1 + usual.double}, // again
	} {
		if got := m.cost(c.from, c.to); got < c.want-1e-9 || got > c.want+1e-9 {
			t.Errorf("%s to %s costs %g, want %g", tab.Token(c.from.actions), tab.Token(c.to.actions), got, c.want)
		}
	}
}
