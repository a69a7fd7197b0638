package fit

import (
	"math"
	"math/rand/v2"
	"testing"

	"blowdraw/tabber/harp/harptest"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/tab"
)

// costOf a path by its definition.
func costOf(c costs, spans []span) float64 {
	sum, at := 0.0, 0
	var laid []int
	for k, s := range spans {
		if s.from >= 0 {
			laid = append(laid, k)
		} else {
			sum += leftOut
		}
	}
	gap := func(to int, share float64) {
		for ; at < to; at++ {
			sum += share * c.gap[at]
		}
	}
	share := outside
	for _, k := range laid {
		s := spans[k]
		gap(s.from, share)
		sum, share = sum+c.begin[c.kind[k]][s.from], 1
		for ; at < s.to; at++ {
			sum += c.wrong[c.kind[k]][at]
		}
	}
	gap(c.frames, outside)
	return sum
}

// every calls f with all ways to lay notes k and on from a frame on.
func every(c costs, spans []span, k, from int, f func([]span)) {
	if k == c.notes {
		f(spans)
		return
	}
	spans[k] = span{-1, -1}
	every(c, spans, k+1, from, f)
	for a := from; a < c.frames; a++ {
		for b := a + lattice.MinFrames; b <= c.frames; b++ {
			spans[k] = span{a, b}
			every(c, spans, k+1, b, f)
		}
	}
	spans[k] = span{-1, -1}
}

// No way to lay the notes is cheaper than the one found: all are tried.
func TestAlignIsBest(t *testing.T) {
	for seed := range uint64(300) {
		rng := rand.New(rand.NewPCG(seed, 1))
		c := costs{frames: 1 + rng.IntN(11), notes: rng.IntN(4)}
		fill := func(most float64) []float64 {
			x := make([]float64, c.frames)
			for i := range x {
				x[i] = most * rng.Float64()
			}
			return x
		}
		c.gap = fill(8)
		for range 2 {
			c.wrong, c.begin = append(c.wrong, fill(6)), append(c.begin, fill(mostBegin))
		}
		for range c.notes {
			c.kind = append(c.kind, rng.IntN(2))
		}
		best := math.Inf(1)
		every(c, make([]span, c.notes), 0, 0, func(s []span) { best = min(best, costOf(c, s)) })
		found := align(c)
		at := 0
		for _, s := range found {
			if s.from >= 0 {
				if s.from < at || s.to-s.from < lattice.MinFrames || s.to > c.frames {
					t.Fatalf("seed %d: %v of %d frames", seed, found, c.frames)
				}
				at = s.to
			}
		}
		if got := costOf(c, found); math.Abs(got-best) > 1e-9 {
			t.Errorf("seed %d: %v costs %g, the best %g", seed, found, got, best)
		}
	}
}

// Worked out by hand: -4 was not found, 5 is heard as -5 instead, and a 6 is heard besides.
func TestCompared(t *testing.T) {
	h := harptest.Of(t, "C", "richter")
	event := func(start float64, token string, sure float64) tab.Event {
		a, err := tab.ParseToken(h, token)
		if err != nil {
			t.Fatal(err)
		}
		return tab.Event{
			Start: start, End: start + 0.5, Actions: a, Pitches: []float64{float64(h.MIDI(a[0]))}, Confidence: sure,
		}
	}
	notes := []Laid{
		{Event: event(1, "4", 1), Found: true}, {Event: event(0, "-4", 1)}, {Event: event(2, "4", 1), Found: true},
		{Event: event(0, "5", 1)}, {Event: event(4, "-6", 1), Found: true},
	}
	heard := []tab.Event{
		event(0, "2", 0.9), event(1, "4", 0.9), event(2, "4", 0.9), event(2.6, "-5", 0.7),
		event(3.2, "8", 0.9), event(4, "-6", 0.9), event(5, "3", 0.9),
	}
	got, added := compared(notes, heard)
	if got[1].Instead != nil || got[3].Instead == nil || tab.Token(got[3].Instead.Actions) != "-5" {
		t.Errorf("instead: %v, %v", got[1].Instead, got[3].Instead)
	}
	if len(added) != 1 || tab.Token(added[0].Actions) != "8" {
		t.Errorf("besides: %+v", added)
	}
}
