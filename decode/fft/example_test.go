package fft_test

import (
	"fmt"
	"math"

	"blowdraw/decode/fft"
)

// The power of a tone of amplitude 1 in bin 8 of a Hann window of 64 samples is the square
// of half the window's sum, which is 32.
func ExampleFrames() {
	x := make([]float64, 64)
	for i := range x {
		x[i] = math.Cos(2 * math.Pi * 8 * float64(i) / 64)
	}
	fft.NewFrames(fft.Hann(64), 64).Each(x, 0, 1, func(i int, power []float32) {
		fmt.Printf("frame %d: %d bins, %.0f in bin 8, %.0f in bin 20\n", i, len(power), power[8], power[20])
	})
	// Output: frame 0: 33 bins, 256 in bin 8, 0 in bin 20
}
