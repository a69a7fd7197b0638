package ear

import "sync"

// pipeline runs stages on windows 0 to n-1: each stage takes the windows in order, and
// window k only after the stage before it has. What a stage made of one window lies
// where it will make the next, so it waits until the stage after it is done with that;
// other stages go on meanwhile. So many windows are under way at once at most.
func pipeline(n, atOnce int, stages []func(k int)) {
	if atOnce <= 1 {
		for k := range n {
			for _, stage := range stages {
				stage(k)
			}
		}
		return
	}
	made, used := make([]chan bool, len(stages)), make([]chan bool, len(stages))
	for i := range stages {
		made[i], used[i] = make(chan bool, 1), make(chan bool, 1)
	}
	under := make(chan bool, atOnce)
	var wg sync.WaitGroup
	for i, stage := range stages {
		wg.Go(func() {
			last := i == len(stages)-1
			for k := range n {
				if i == 0 {
					under <- true
				} else {
					<-made[i-1]
				}
				if !last && k > 0 {
					<-used[i]
				}
				stage(k)
				if i > 0 {
					used[i-1] <- true
				}
				if !last {
					made[i] <- true
				} else {
					<-under
				}
			}
		})
	}
	wg.Wait()
}
