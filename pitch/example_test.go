package pitch_test

import (
	"fmt"

	"blowdraw/pitch"
)

// A4, and C4, which is hole 1 blow of a C harp.
func ExampleMIDIToHz() {
	fmt.Printf("%.2f Hz\n%.2f Hz\n", pitch.MIDIToHz(69), pitch.MIDIToHz(60))
	fmt.Printf("%.2f\n", pitch.HzToMIDI(442))
	// Output:
	// 440.00 Hz
	// 261.63 Hz
	// 69.08
}

// One value weighs more than all the others together.
func ExampleWeightedMedian() {
	fmt.Println(pitch.WeightedMedian([]float64{10, 1, 3, 2}, []float64{4, 1, 1, 1}))
	fmt.Println(pitch.Median([]float64{10, 1, 3, 2}))
	// Output:
	// 10
	// 2.5
}
