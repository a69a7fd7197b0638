package hearing

import (
	"math"
	"testing"

	"blowdraw/pitch"
	"blowdraw/tabber/tab"
)

func TestSeam(t *testing.T) {
	e := func(start, end float64) tab.Event { return tab.Event{Start: start, End: end} }
	half := pitch.HopSeconds / 2
	for _, c := range []struct {
		name   string
		events []tab.Event
		want   float64
	}{
		{"nothing", nil, 15},
		{"one rest", []tab.Event{e(5, 13), e(14, 30)}, 13.5},
		{"the longer rest", []tab.Event{e(5, 11), e(11.3, 12), e(13, 30)}, 12.5},
		{"a rest at the end", []tab.Event{e(5, 11), e(11.5, 19)}, 19.5},
		{"silence to the end", []tab.Event{e(5, 11)}, 15.5},
		{"slurred", []tab.Event{e(5, 12), e(12, 16), e(16, 19), e(19, 30)}, 19 - half},
		{"one long note", []tab.Event{e(5, 30)}, 20 - half},
		{"a long note that begins shortly before", []tab.Event{e(5, 9), e(9, 30)}, 9 - half},
		{"outside", []tab.Event{e(1, 2), e(21, 22)}, 15},
	} {
		if got := seam(c.events, 10, 20, 8); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s: joined at %g, want %g", c.name, got, c.want)
		}
	}
}

// Frames of windows that overlap follow each other once, each as the first window heard it.
func TestJoined(t *testing.T) {
	window := func(start, n int, level float32) pitch.Frames {
		f := pitch.NewFrames(pitch.Axis{}, float64(start)*pitch.HopSeconds, n)
		for i := range n {
			f.Sounding[i*pitch.Rows] = level + float32(start+i)
		}
		return f
	}
	first, second := window(10, 8, 100), window(15, 6, 200) // frames 10 to 17 and 15 to 20
	got := Joined(Joined(pitch.Frames{}, first), second)
	if got.N != 11 || got.Start != first.Start {
		t.Fatalf("%d frames from %g s, want 11 from %g", got.N, got.Start, first.Start)
	}
	for i := range got.N {
		want := float32(100 + 10 + i)
		if i >= first.N {
			want += 100
		}
		if p := got.Sounding[i*pitch.Rows]; p != want {
			t.Errorf("frame %d is %g, want %g", i, p, want)
		}
	}
}
