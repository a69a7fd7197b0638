//go:build long || !arm64

package ear

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"blowdraw/pitch"
)

// Heard from a later multiple of 32 hops on, or not to the end, frames are the same but
// for those within reach of where the samples were cut.
func TestReach(t *testing.T) {
	e, err := New()
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	x := make([]float64, 20*pitch.Rate)
	for i := range x {
		x[i] = 0.1*math.Sin(2*math.Pi*440*float64(i)/pitch.Rate)*float64(i/7000%2) + 0.03*rng.NormFloat64()
	}
	axis := pitch.Axis{Base: 57}
	whole := e.Hear(x, 0, axis)
	const skipped, dropped = 96, 100 // hops
	cut := e.Hear(x[skipped*pitch.Hop:len(x)-dropped*pitch.Hop], skipped*pitch.HopSeconds, axis)
	differs := func(a, b pitch.Frames) bool {
		cents := func(x, y float32) bool { return x == y || x != x && y != y } // both unknown
		return !slices.Equal(a.Sounding, b.Sounding) || !slices.Equal(a.Attack, b.Attack) ||
			!slices.EqualFunc(
				a.Cents,
				b.Cents,
				cents,
			) || !slices.Equal(a.Event, b.Event) || !slices.Equal(a.Loud, b.Loud) ||
			!slices.Equal(a.Count, b.Count) || !slices.Equal(a.Breath, b.Breath) ||
			!slices.EqualFunc(a.Whole, b.Whole, slices.Equal[[]float32])
	}
	reach := e.Reach()
	from, to := reach, cut.N-reach
	if to-from < 100 {
		t.Fatalf("%d frames are compared", to-from)
	}
	if differs(cut.Part(from, to), whole.Part(skipped+from, skipped+to)) {
		t.Errorf("frames %d to %d of a part are not those of the whole", from, to)
	}
	if from, to = reach/2, cut.N-reach/2; !differs(cut.Part(from, to), whole.Part(skipped+from, skipped+to)) {
		t.Errorf("the reach of %d frames is twice what it has to be", reach)
	}
}
