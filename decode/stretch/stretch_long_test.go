//go:build long

package stretch

import "testing"

func TestMoreTones(t *testing.T) {
	checkTones(t, []float64{0.4, 0.5, 0.6, 0.75, 1, 1.25}, []float64{196, 440, 1174.7, 2637})
}
