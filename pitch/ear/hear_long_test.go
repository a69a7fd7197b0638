//go:build long || !arm64

package ear

import (
	"slices"
	"sync"
	"testing"

	"blowdraw/pitch"
)

// These tests take minutes where arm64 is emulated.

// What is heard must not depend on where windows end, to the last bit.
func TestWindowsAgreeWithTheWhole(t *testing.T) {
	e := newEar(t)
	x := melody(6)
	whole := e.hear(x, 2, testAxis, 528)
	if loudest := slices.Max(whole.Sounding); loudest < 0.5 {
		t.Fatalf("nothing is heard: at most %.3f", loudest)
	}
	for _, width := range []int{48, 96, 240} {
		sameFrames(t, e.hear(x, 2, testAxis, width), whole, "windows")
	}
}

// One ear hears several recordings at once as it hears them one by one.
func TestHearAtOnce(t *testing.T) {
	e := newEar(t)
	x := melody(3)
	var want, got [3]pitch.Frames
	for i := range want {
		want[i] = e.Hear(x[i*pitch.Rate/2:], 0, testAxis)
	}
	var wg sync.WaitGroup
	for i := range got {
		wg.Go(func() { got[i] = e.Hear(x[i*pitch.Rate/2:], 0, testAxis) })
	}
	wg.Wait()
	for i := range got {
		sameFrames(t, got[i], want[i], "at once")
	}
}
