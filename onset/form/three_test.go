package form

import "testing"

// Bands in three are not written in four, and those in four are never taken for three.
// threeFrom was chosen on seeds 71 to 73.
func TestThree(t *testing.T) {
	if testing.Short() {
		t.Skip("hears half an hour of bands")
	}
	for _, c := range []struct {
		grooves []string
		seed    uint64
		n       int
	}{{gigGrooves, 74, 54}, {[]string{"waltz"}, 75, 36}} {
		all := takesOf(t, c.grooves, c.seed, c.n, smallBank, true)
		three, four := make([]bool, c.n), make([]bool, c.n)
		each(all, func(i int, k take) {
			b := FindBars(k.sound, k.beatsFound(), k.heard, Options{Key: &k.key})
			three[i], four[i] = b.Three, b.Sure >= SureFrom
		})
		n, written := count(three), count(four)
		t.Logf("%d grooves: %d of %d taken for three, %d written in four", len(c.grooves), n, c.n, written)
		if len(c.grooves) > 1 && n > 0 || len(c.grooves) == 1 && 2*n < c.n {
			t.Errorf("seed %d: %d of %d taken for three", c.seed, n, c.n)
		}
	}
}

func count(of []bool) (n int) {
	for _, b := range of {
		if b {
			n++
		}
	}
	return n
}
