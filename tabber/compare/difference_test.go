package compare

import (
	"math"
	"math/rand"
	"slices"
	"strconv"
	"strings"
	"testing"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

func parse(t testing.TB, body string) tab.Document {
	t.Helper()
	d, err := tab.Parse(strings.NewReader("blowdraw tab 1\nharp: C\nsong: G\n" + body))
	if err != nil {
		t.Fatal(err)
	}
	return d
}

const passage = "0:01 0.4 -2\n0:01.5 0.4 -3'\n0:02 0.4 -4\n0:02.5 0.4 4\n0:03 0.9 [-4 -5]\n" +
	"0:04 0.4 -2\n0:04.5 1 -1\n"

func TestDifferenceOfSelf(t *testing.T) {
	a := parse(t, passage)
	c := Difference(a, a, 0, 0.05)
	if c.Notes.F != 1 || c.WithEnds.F != 1 || c.Holes.F != 1 || c.Timing != (Spread{N: 7}) ||
		len(c.Pairs) != 7 {
		t.Errorf("%+v", c)
	}
}

// Counted by hand: of 7 events with 8 notes one is missing, one is another note,
// one is 80 ms late and one is invented.
func TestDifference(t *testing.T) {
	a := parse(t, passage)
	b := parse(t, "tuning: 60 cents flat\n0:01.01 0.4 -2\n0:01.5 0.4 -3''\n0:02.08 0.4 -4\n"+
		"0:03 0.9 [-4 -5]\n0:04 0.2 -2\n0:04.5 1 -1\n0:08 1 4\n")
	c := Difference(a, b, 0, 0.05)
	// A has 8 notes, B 8; right are -2, -4 -5, -2, -1.
	if c.Notes.Matched != 5 || c.Notes.Ref != 8 || c.Notes.Est != 8 || math.Abs(c.Notes.F-5.0/8) > 1e-12 {
		t.Errorf("notes %+v", c.Notes)
	}
	if c.WithEnds.Matched != 4 || c.Holes.Matched != 4 || c.Holes.Ref != 7 || c.Holes.Est != 7 {
		t.Errorf("with ends %+v, holes %+v", c.WithEnds, c.Holes)
	}
	want := []Pair{{0, 0, true, 0.01}, {1, 1, false, 0}, {2, 2, true, 0.08}, {3, -1, false, 0},
		{4, 3, true, 0}, {5, 4, true, 0}, {6, 5, true, 0}, {-1, 6, false, 0}}
	if len(c.Pairs) != len(want) {
		t.Fatalf("pairs %v", c.Pairs)
	}
	for i, p := range c.Pairs {
		w := want[i]
		if p.A != w.A || p.B != w.B || p.Same != w.Same || math.Abs(p.Late-w.Late) > 1e-9 {
			t.Errorf("pair %d: %+v, want %+v", i, p, w)
		}
	}
	if c.Timing.N != 5 || math.Abs(c.Timing.Mean-0.018) > 1e-9 ||
		math.Abs(c.Timing.Sdev-math.Sqrt((0.01*0.01+0.08*0.08)/5-0.018*0.018)) > 1e-9 {
		t.Errorf("timing %+v", c.Timing)
	}
	beats := c.ByBeat(a, 120, 4) // a beat is 0.5 s: beats 1, 2, 3, 4, 1, 3, 4
	if beats[0].N != 2 || math.Abs(beats[0].Mean-0.005) > 1e-9 || beats[1].N != 0 || beats[2].N != 2 ||
		math.Abs(beats[2].Mean-0.04) > 1e-9 || beats[3].N != 1 {
		t.Errorf("by beat %+v", beats)
	}
}

func TestDifferenceOtherHarp(t *testing.T) {
	a := parse(t, "0:01 1 -4\n") // D5
	b, err := tab.Parse(strings.NewReader("blowdraw tab 1\nharp: D\nsong: G\n0:01 1 4\n"))
	if err != nil {
		t.Fatal(err)
	}
	if c := Difference(a, b, 0, 0.05); c.SameHarp || c.Notes.F != 1 || c.Holes.F != 1 {
		t.Errorf("%+v", c)
	}
}

// Whatever was left out, moved a little and shifted, the shift is found, every
// event stands in one pair, and pairs are in order.
func TestShiftAndPairsRandom(t *testing.T) {
	tokens := []string{"-2", "-3'", "-4", "4", "5", "-5", "6", "-1", "[1 4]", "2"}
	for seed := range int64(300) {
		r := rand.New(rand.NewSource(seed))
		var a, b tab.Document
		var body strings.Builder
		at := 1.0
		for range 12 + r.Intn(30) {
			at += 0.12 + 0.6*r.Float64()
			body.WriteString(strings.Join([]string{"0:" + strconv.FormatFloat(at, 'f', 3, 64), "0.1",
				tokens[r.Intn(len(tokens))]}, " ") + "\n")
		}
		a = parse(t, body.String())
		b = a
		b.Events = nil
		shift := 0.5 * r.Float64()
		for _, e := range a.Events {
			if r.Intn(8) > 0 {
				e.Start += shift + 0.02*r.Float64() - 0.01
				b.Events = append(b.Events, e)
			}
		}
		if got := Shift(a, b, 0.05); math.Abs(got+shift) > 0.012 {
			t.Fatalf("seed %d: shift %g, want %g", seed, got, -shift)
		}
		c := Difference(a, b, Shift(a, b, 0.05), 0.05)
		i, j := 0, 0
		for _, p := range c.Pairs {
			if p.A >= 0 && p.A != i || p.B >= 0 && p.B != j || p.A < 0 && p.B < 0 {
				t.Fatalf("seed %d: pairs %v", seed, c.Pairs)
			}
			if p.A >= 0 {
				i++
			}
			if p.B >= 0 {
				j++
				if !p.Same {
					t.Fatalf("seed %d: %+v", seed, p)
				}
			}
		}
		if i != len(a.Events) || j != len(b.Events) {
			t.Fatalf("seed %d: %d and %d of %d and %d events", seed, i, j, len(a.Events), len(b.Events))
		}
	}
}

// BenchmarkDifference compares two tabs of 100,000 events.
func BenchmarkDifference(b *testing.B) {
	var x, y tab.Document
	for i := range 100_000 {
		at := float64(i) * 0.25
		e := event(at, at+0.2, 1, 60+float64(i%12), harp.Action{Breath: harp.Breath(i % 2), Hole: 1 + i%9})
		x.Events = append(x.Events, e)
		e.Start += 0.01 * float64(i%7)
		if i%13 > 0 {
			y.Events = append(y.Events, e)
		}
	}
	for b.Loop() {
		Difference(x, y, 0, 0.05)
	}
}

// Trying only what is near gives the matching that trying everything does.
func TestMatchNear(t *testing.T) {
	rng := rand.New(rand.NewSource(1))
	for range 200 {
		x, y := make([]float64, rng.Intn(30)), make([]float64, rng.Intn(30))
		for i := range x {
			x[i] = 3 * rng.Float64()
		}
		for i := range y {
			y[i] = 3 * rng.Float64()
		}
		ok := func(i, j int) bool { return Within(x[i], y[j], 0.2) && (i+j)%3 > 0 }
		got := matchNear(x, y, func(v float64) float64 { return v }, 0.2, ok)
		if want := Match(len(x), len(y), ok); !slices.Equal(got, want) {
			t.Fatalf("%v, want %v", got, want)
		}
	}
}

func event(start, end, confidence float64, pitch float64, a ...harp.Action) tab.Event {
	e := tab.Event{Start: start, End: end, Confidence: confidence, Actions: a, Texture: tab.Texture(a)}
	for i := range a {
		e.Pitches = append(e.Pitches, pitch+12*float64(i))
	}
	return e
}
