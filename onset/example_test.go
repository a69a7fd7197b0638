package onset_test

import (
	"fmt"

	"blowdraw/onset"
)

// Three notes and, after a breath, one more.
func ExamplePhrases() {
	notes := [][2]float64{{0, 0.4}, {0.4, 0.9}, {1.1, 1.5}, {2.2, 3}}
	fmt.Println(onset.Phrases(notes, onset.Space))
	// Output: [[0 1.5] [2.2 3]]
}
