package compare

import (
	"fmt"
	"math"
	"math/rand"
	"strings"
	"testing"
)

// playedAt writes tokens at starts, each for 0.2 s.
func playedAt(tokens []string, at func(k int) float64) string {
	var b strings.Builder
	for k, s := range tokens {
		fmt.Fprintf(&b, "0:%06.3f 0.2 %s\n", at(k), s)
	}
	return b.String()
}

// A passage is found where it was put, at the tempo that it was put at, among other
// phrases and with mistakes in it; another one is not.
func TestPlace(t *testing.T) {
	passage := strings.Fields("-2 -3' -4 -4' -4 -3' -2 4 -4 5 -5 [-4 -5] 6 -5 5 -4 -3' -2 -1 -2")
	passage = append(passage[:11], append([]string{"[-4 -5]"}, passage[13:]...)...)
	at := func(k int) float64 { return 1 + 0.4*float64(k) }
	a := parse(t, playedAt(passage, at))
	other := strings.Fields("6 -6 7 -7 7 -6 6 5 4 5 6 7 8")
	for _, c := range []struct {
		at, speed float64
	}{{0, 1}, {9, 0.8}, {7, 1.25}, {5, 0.6}, {20, 1.6}} {
		r := rand.New(rand.NewSource(int64(100 * c.speed)))
		first := c.at + at(0)/c.speed
		var tokens []string
		var starts []float64
		for k, s := range other {
			if start := float64(k) * 0.35; start < first-0.3 {
				tokens, starts = append(tokens, s), append(starts, start)
			}
		}
		for k, s := range passage {
			switch {
			case k == 4:
				s = "-5" // another note
			case k == 8:
				continue // left out
			}
			tokens, starts = append(tokens, s), append(starts, c.at+at(k)/c.speed+0.02*r.NormFloat64())
		}
		last := starts[len(starts)-1]
		for k, s := range other {
			tokens, starts = append(tokens, s), append(starts, last+0.5+0.3*float64(k))
		}
		b := parse(t, playedAt(tokens, func(k int) float64 { return starts[k] }))
		p, ok := Place(a, b)
		if !ok || math.Abs(p.At-c.at) > 0.05 || math.Abs(p.Speed/c.speed-1) > 0.01 || p.Events < 17 {
			t.Errorf("at %g, speed %g: %+v, %v", c.at, c.speed, p, ok)
			continue
		}
		v := Difference(p.Moved(a), p.Within(a, b), 0, 0.05).Verdict(p.Moved(a), 0.05)
		if v.Right != 18 || v.Other != 1 || v.LeftOut != 1 || v.Added != 0 {
			t.Errorf("at %g, speed %g: %+v", c.at, c.speed, v)
		}
	}
	b := parse(t, playedAt(other, at))
	if p, ok := Place(a, b); ok {
		t.Errorf("found what isn't there: %+v", p)
	}
	for _, s := range []string{"", "0:01 1 -4\n"} {
		if _, ok := Place(a, parse(t, s)); ok {
			t.Errorf("found in %q", s)
		}
	}
}
