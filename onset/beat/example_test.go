package beat_test

import (
	"fmt"

	"blowdraw/onset/beat"
)

// Quarters and swung eighths at 120 beats a minute, with nothing heard but notes.
func ExampleFind() {
	strength := beat.Strength{Hop: 0.01, Values: make([]float32, 1600)}
	var starts []float64
	for i := range 32 {
		at := 0.5 * float64(i)
		starts = append(starts, at, at+0.5*2/3)
	}
	r := beat.Find(strength, starts, 0, 16, 0)
	fmt.Printf("%.0f %s %.1f\n", r.BPM, r.Feel, r.SwingRatio)
	// Output: 120 swing 2.0
}
