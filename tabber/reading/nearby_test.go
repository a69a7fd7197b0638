package reading

import (
	"testing"
)

// Near are a span itself, what began nearBefore before it at most and what has ended
// nearAfter after its start.
func TestNear(t *testing.T) {
	w := Times{100, 130}
	for _, c := range []struct {
		o    Times
		want bool
	}{
		{w, true},
		{Times{100 - nearBefore, 100}, true}, {Times{99.9 - nearBefore, 101}, false},
		{Times{101, 100 + nearAfter}, true}, {Times{101, 100.1 + nearAfter}, false},
		{Times{90, 101 + nearAfter}, false},
	} {
		if got := w.near(c.o); got != c.want {
			t.Errorf("%v is near %v: %v, want %v", c.o, w, got, c.want)
		}
	}
}
