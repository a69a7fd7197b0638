//go:build long

package phrasing

import (
	"math"
	"testing"

	"blowdraw/tabber/lab/clips"
)

// No more random solos have a pair that is said to come by chance in one of 20, or of 100,
// than that. chanceK and decay were chosen on these solos.
func TestBestByChance(t *testing.T) {
	type row struct{ solos, five, one int }
	var rows [12]row // by the logarithm of the number of events
	for _, seed := range []int64{11, 12, 13} {
		for _, seconds := range []float64{15, 30, 60, 120, 240, 480} {
			for _, s := range clips.Solos(seed, 70, seconds, false) {
				n, least := len(s.Events), math.Inf(1)
				for _, p := range alike(s.Document()) {
					least = min(least, float64(n)*byChance(p.score, n)/2)
				}
				r := &rows[int(math.Log2(float64(n)))]
				r.solos++
				if least < 0.05 {
					r.five++
				}
				if least < 0.01 {
					r.one++
				}
			}
		}
	}
	var all row
	for k, r := range rows {
		all.solos, all.five, all.one = all.solos+r.solos, all.five+r.five, all.one+r.one
		if r.solos > 0 {
			t.Logf("%4d events and more: %3d solos, said 5%%: %2d, 1%%: %2d", 1<<k, r.solos, r.five, r.one)
		}
	}
	if 20*all.five > all.solos || 100*all.one > all.solos {
		t.Errorf("%+v", all)
	}
}
