package whichharp

import (
	"context"
	"math"
	"testing"

	"blowdraw/decode/programs"
	"blowdraw/tabber/lab/clips"
)

// Every usual harp in first, second and third position, twice each: 72 rendered
// performances, dry, in a hall and through an amplifier, of a seed that the
// weights were not fitted on. The right harp must come first on nine in ten, and
// be among the first three on 98 in 100.
func BenchmarkPositions(b *testing.B) {
	made, err := clips.Positions(1234)
	programs.Check(b, err, clips.ErrMissing)
	r, err := New()
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		var first, three, sure, cents float64
		n := float64(len(made))
		for _, c := range made {
			k, err := r.Rank(context.Background(), c.Clip, Options{SongKey: AnyKey})
			if err != nil {
				b.Fatal(err)
			}
			for i, x := range k.Candidates[:3] {
				if same(x.Harp, c.Harp) {
					three += 1 / n
					if i == 0 {
						first += 1 / n
					}
				}
			}
			sure += k.Candidates[0].Probability / n
			cents += math.Abs(k.Tuning.Cents-c.Cents) / n
		}
		b.ReportMetric(first, "first")
		b.ReportMetric(three, "first-three")
		b.ReportMetric(sure, "sure")
		b.ReportMetric(cents, "cents-off")
		if first < 0.9 || three < 0.98 {
			b.Errorf("first %.3f, first three %.3f of %d", first, three, len(made))
		}
	}
}
