package reading

import (
	"slices"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/harp/harptest"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/tab"
)

// chugged are 40 frames in which some reeds of a harp sound surely and as loud as one another,
// struck in frame 5, and no other does.
func chugged(r Reader, actions []harp.Action) Sound {
	f := noisy(1, 40)
	var rows []int
	for _, a := range actions {
		rows = append(rows, lattice.Row(r.Harp, a))
	}
	for k := range f.N {
		f.Count[k] = [4]float32{}
		f.Count[k][min(len(rows), pitch.MostCounted)] = 1
		for row := range pitch.Rows {
			i := k*pitch.Rows + row
			f.Sounding[i], f.Attack[i], f.Loud[i] = 0.001, 0.001, -60
			if slices.Contains(rows, row) {
				f.Sounding[i], f.Loud[i] = 0.999, -20
				if k == 5 {
					f.Attack[i] = 0.99
				}
			}
		}
	}
	return Sound{decode.Clip{Rate: pitch.Rate}, f}
}

// What sounds is settled, whatever of it the search found: a reed too few is added, one too
// many left out, what is right stays and is believed.
func TestSettle(t *testing.T) {
	r := readerC(t)
	h := harptest.Of(t, "C", "richter")
	for _, c := range []struct{ sounds, found, want string }{
		{"4", "[4 5]", "4"},
		{"[4 5]", "[4 5]", "[4 5]"},
		{"[4 5]", "4", "[4 5]"},
		{"[-3 -4]", "[-3 -4 -5]", "[-3 -4]"},
		{"[2 3 4]", "[1 2 3 4]", "[2 3 4]"},
		{"[1 4]", "[1 4]", "[1 4]"}, // no neighbours
	} {
		actions := func(token string) []harp.Action {
			a, err := tab.ParseToken(h, token)
			if err != nil {
				t.Fatal(err)
			}
			return a
		}
		s := lattice.Span{State: r.States.Playing(actions(c.found)), From: 5, To: 35, Found: 5}
		got := r.settle(chugged(r, actions(c.sounds)), Span{Span: s})
		if token := tab.Token(r.States[got.State].Actions); token != c.want || r.besideSide(got) < 0.7 {
			t.Errorf("%s sounds, %s was found: %s, believed to %.2f", c.sounds, c.found, token, r.besideSide(got))
		}
	}
}

// Questions are about the outer reeds, and about those beside them that may sound.
func TestNeighbours(t *testing.T) {
	r := readerC(t)
	chord := []harp.Action{{Hole: 4}, {Hole: 5}, {Hole: 6}}
	x := chugged(r, chord)
	s := lattice.Span{State: r.States.Playing(chord), From: 5, To: 35, Found: 5}
	holes := func() (out []int) {
		for _, q := range r.Neighbours(x, []lattice.Span{s}) {
			out = append(out, q.Reed.Hole)
			if len(q.Cues) != len(NeighbourCues) || q.Span != 0 {
				t.Errorf("%+v", q)
			}
		}
		return out
	}
	if got := holes(); !slices.Equal(got, []int{4, 6}) {
		t.Errorf("asked for the blow reeds of holes %v, want 4 and 6", got)
	}
	row := lattice.Row(r.Harp, harp.Action{Hole: 7})
	for k := range x.Frames.N {
		x.Frames.Sounding[k*pitch.Rows+row] = 0.1
	}
	if got := holes(); !slices.Equal(got, []int{4, 6, 7}) {
		t.Errorf("asked for the blow reeds of holes %v, want 4, 6 and 7", got)
	}
}
