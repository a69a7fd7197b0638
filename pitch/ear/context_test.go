package ear

import (
	"math"
	"math/rand/v2"
	"testing"

	"blowdraw/pitch"
)

// Running sums agree with sums over the steps on either side, across windows.
func TestContextSums(t *testing.T) {
	const width, windows = 48, 12
	rng := rand.New(rand.NewPCG(7, 8))
	value := make([][contextIn + 1]float32, width*windows)
	for i := range value {
		for c := range value[i] {
			value[i][c] = float32(math.Abs(rng.NormFloat64()))
		}
	}
	s := newSums(width)
	const r = 17
	for w := range windows {
		for j := range width {
			for c := range contextIn + 1 {
				s.kept.row(c, r)[s.start(w)+j] = value[w*width+j][c]
			}
		}
		s.add(r, w)
		for j := range width {
			middle := w*width + j - contextSpan
			for c := range contextIn + 1 {
				want := 0.0
				for i := max(middle-contextSpan, 0); i <= middle+contextSpan; i++ {
					want += float64(value[i][c])
				}
				if got := float64(s.row.row(c, r)[j]); math.Abs(got-want) > 1e-3 {
					t.Fatalf("channel %d around step %d: sum %g, want %g", c, middle, got, want)
				}
			}
		}
	}
}

// Means weigh the kept channels by their gates, and are 0 without any.
func TestContextMeans(t *testing.T) {
	s := newSums(1)
	for _, r := range []int{3, 30} {
		s.row.row(0, r)[0], s.row.row(contextIn, r)[0] = 6*float32(r), 2
	}
	s.weigh()
	s.meanOfAll(0)
	if got := s.all.row(0, 0)[0]; got != 6*33.0/5 {
		t.Errorf("mean of all rows %g, want %g", got, 6*33.0/5)
	}
	for r := range pitch.Rows {
		s.meanOfRow(r)
		want := float32(0)
		if r == 3 || r == 30 {
			want = 2 * float32(r)
		}
		if got := s.row.row(0, r)[0]; got != want {
			t.Errorf("mean of row %d: %g, want %g", r, got, want)
		}
	}
}
