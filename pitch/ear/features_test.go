package ear

import (
	"math"
	"testing"
)

// Values over the whole range of powers, from 0 to far above full scale,
// against the standard library.
func TestScaled(t *testing.T) {
	for _, x := range []float64{1, math.Nextafter(1, 2), math.Sqrt2, 2, 3, 1e9, 1e300} {
		if got, want := log2(x), math.Log2(x); math.Abs(got-want) > 1e-7 {
			t.Errorf("log2(%g) = %.9f, want %.9f", x, got, want)
		}
	}
	worst := 0.0
	for e := -14.0; e < 3; e += 1e-4 {
		p := math.Pow(10, e)
		want := (math.Log10(p+1e-9) + 9) / 4
		worst = max(worst, math.Abs(float64(scaled(p))-want))
	}
	if worst > 2e-7 { // float32 itself rounds by up to 1.2e-7 here
		t.Errorf("a power is %g off on the network's scale", worst)
	}
	if v := scaled(0); v != 0 {
		t.Errorf("silence is %g, want 0", v)
	}
}

// The vector code gives what the plain code gives; a power below 0 is rounding.
func TestScaleAgreesWithPlain(t *testing.T) {
	var src [40]totals
	var got, want [40][batch]float32
	for b := range src {
		for i := range src[b] {
			src[b][i] = math.Pow(10, float64(b*batch+i)/20-14)
		}
	}
	src[3][5], src[4][6] = 0, -1e-12
	scale(got[:], src[:])
	scalePlain(want[:], src[:])
	for b := range src {
		for i, v := range got[b] {
			if math.Abs(float64(v-want[b][i])) > 3e-7*(1+math.Abs(float64(v))) {
				t.Errorf("power %g: %g, plain %g", src[b][i], v, want[b][i])
			}
		}
	}
}
