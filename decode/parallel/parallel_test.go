package parallel

import (
	"sync/atomic"
	"testing"
)

// Every piece is done once, and no worker does two at a time.
func TestOn(t *testing.T) {
	for _, workers := range []int{0, 1, 3, 200} {
		for _, n := range []int{0, 1, 100} {
			done := make([]atomic.Int32, n)
			busy := make([]atomic.Int32, max(workers, 1))
			On(workers, n, func(w, i int) {
				if busy[w].Add(1) != 1 {
					t.Errorf("worker %d does two pieces at a time", w)
				}
				done[i].Add(1)
				busy[w].Add(-1)
			})
			for i := range done {
				if times := done[i].Load(); times != 1 {
					t.Errorf("piece %d of %d on %d workers was done %d times", i, n, workers, times)
				}
			}
		}
	}
}
