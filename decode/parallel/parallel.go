// Package parallel does independent pieces of work side by side.
package parallel

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// Each calls do for every i in [0, n), on as many workers as there are processors.
// Calls with the same worker follow each other; which worker gets which i is chance, so
// that what do gives must not depend on it.
func Each(n int, do func(worker, i int)) { On(Workers(), n, do) }

// Workers is how many workers [Each] has at most.
func Workers() int { return runtime.GOMAXPROCS(0) }

// On is [Each] on so many workers.
func On(workers, n int, do func(worker, i int)) {
	if workers = min(workers, n); workers <= 1 {
		for i := range n {
			do(0, i)
		}
		return
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				do(w, i)
			}
		})
	}
	wg.Wait()
}
