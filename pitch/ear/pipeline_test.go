package ear

import (
	"sync/atomic"
	"testing"
)

// Every stage sees the windows in order, each after the stage before it, and what a
// stage made is used before it makes the next.
func TestPipeline(t *testing.T) {
	for _, atOnce := range []int{1, 2, 3, 9} {
		const windows = 40
		var made [5]atomic.Int32
		var under atomic.Int32
		var stages []func(k int)
		for i := range made {
			stages = append(stages, func(k int) {
				if i == 0 && int(under.Add(1)) > atOnce {
					t.Errorf("%d at once: more windows are under way", atOnce)
				}
				if int(made[i].Load()) != k {
					t.Errorf("%d at once, stage %d: window %d out of turn", atOnce, i, k)
				}
				if i > 0 && int(made[i-1].Load()) != k+1 {
					t.Errorf("%d at once, stage %d: window %d is not what stage %d made last", atOnce, i, k, i-1)
				}
				if i < len(made)-1 && int(made[i+1].Load()) != k {
					t.Errorf("%d at once, stage %d: window %d overwrites what is not used", atOnce, i, k)
				}
				if i == len(made)-1 {
					under.Add(-1)
				}
				made[i].Add(1)
			})
		}
		pipeline(windows, atOnce, stages)
		if n := made[len(made)-1].Load(); n != windows {
			t.Errorf("%d at once: %d windows came out, want %d", atOnce, n, windows)
		}
	}
}
