package render_test

import (
	"fmt"
	"math"
	"strings"

	"blowdraw/tabber/render"
	"blowdraw/tabber/tab"
)

// A reed that speaks at once, is scooped into over 0.2 s and dies away within 0.1 s.
func ExampleRender() {
	n := render.Note{End: 0.5, MIDI: 69, Reed: 8, Release: 0.1, Scoop: 100, ScoopTime: 0.2}
	x := render.Render([]render.Note{n}, render.Set{Seed: 1}, 8000)
	fmt.Printf("%.2f s\n", float64(len(x))/8000)
	fmt.Printf("from MIDI %.0f to %.0f\n", n.Pitch(0), n.Pitch(0.3))
	peak := 0.0
	for _, v := range x {
		peak = max(peak, math.Abs(v))
	}
	fmt.Println("within ±1:", peak <= 1)
	// Output:
	// 0.60 s
	// from MIDI 68 to 69
	// within ±1: true
}

// A tab at half speed: the second note begins a second after the first instead of half a
// second. The fall at its end reaches a semitone and a half down.
func ExamplePlay() {
	d, err := tab.Parse(strings.NewReader("blowdraw tab 1\nharp: C\nsong: G\n0:01 0.4 -4\n" +
		"0:01.5 0.4 6 fall\n"))
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, n := range render.Play(d, 1, 0.5, 0) {
		fmt.Printf("%.1f s, reed %d, %.1f semitones down at its end\n",
			n.Start, n.Reed, n.Pitch(n.Start)-n.Pitch(n.End))
	}
	// Output:
	// 0.0 s, reed 9, 0.0 semitones down at its end
	// 1.0 s, reed 12, 1.5 semitones down at its end
}

// The beats of two bars of a waltz: the first of each bar is clicked higher.
func ExampleClicks() {
	d, err := tab.Parse(strings.NewReader("blowdraw tab 1\nharp: C\nsong: G\nmeter: 3/4\n" +
		"bar 1 0:02.000\n0:02 1 -2\nbar 2 0:03.500\n0:03.5 1 4\n"))
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, c := range render.Clicks(d, 2, 1, 3) {
		fmt.Printf("%.1f %v\n", c.At, c.First)
	}
	// Output:
	// 0.0 true
	// 0.5 false
	// 1.0 false
	// 1.5 true
	// 2.0 false
	// 2.5 false
}
