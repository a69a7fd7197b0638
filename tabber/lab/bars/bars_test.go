package bars

import (
	"math"
	"slices"
	"testing"

	"blowdraw/decode/programs/fluidsynth"
	"blowdraw/onset/form"
)

// made renders takes, or skips the test.
func made(t *testing.T, set Takes) []take {
	t.Helper()
	takes, err := set.render()
	fluidsynth.Check(t, err)
	return takes
}

// findBars are the bars found in takes.
func findBars(takes []take) []form.Bars {
	out := make([]form.Bars, len(takes))
	each(takes, func(i int, k take) {
		out[i] = form.FindBars(k.sound, k.beatsFound(), k.heard, form.Options{Key: &k.key})
	})
	return out
}

// tally counts takes, those whose bars are right, those whose bars are written, and those
// that are both.
type tally struct{ all, right, written, writtenRight int }

func (y *tally) add(right, written bool) {
	y.all++
	if right {
		y.right++
	}
	if written {
		y.written++
	}
	if right && written {
		y.writtenRight++
	}
}

// Bands that improvise in nine grooves with a player on top, from a seed that nothing
// was fitted to: most bars are written, and nearly all of those are right.
func TestGeneratedBands(t *testing.T) { checkBands(t, 9) }

func checkBands(t *testing.T, n int) {
	takes := made(t, Takes{inFour, 31, n, fluidsynth.FluidBank, false})
	var all tally
	for i, b := range findBars(takes) {
		right, written := takes[i].right(b), b.Sure >= form.SureFrom
		all.add(right, written)
		if written && !right {
			t.Logf("wrong: %s at %.0f bpm", takes[i].groove, takes[i].bpm)
		}
	}
	t.Logf("%+v", all)
	if all.written < all.all*3/4 || all.writtenRight < all.written*5/6 {
		t.Errorf("%+v", all)
	}
}

// With one value that is 0 or 1 the fitted probabilities are the shares of what is right
// (closed form; the ridge pulls a little).
func TestFitLogistic(t *testing.T) {
	var told [][]float64
	var right []bool
	for i := range 1000 {
		x := float64(i % 2)
		told, right = append(told, []float64{x}), append(right, i%10 < 3 || x == 1 && i%10 < 8)
	}
	m, _ := fitLogistic(told, right)
	share := func(x float64) float64 {
		n, ok := 0.0, 0.0
		for i := range told {
			if told[i][0] == x {
				n++
				if right[i] {
					ok++
				}
			}
		}
		return ok / n
	}
	for _, x := range []float64{0, 1} {
		if p := m.Probability([]float64{x}); math.Abs(p-share(x)) > 0.01 {
			t.Errorf("value %g: probability %.3f, want %.3f", x, p, share(x))
		}
	}
}

// The grooves of a fit come in the order in which the file has them, whose first ones are
// followed first.
func TestOrderOfGrooves(t *testing.T) {
	by := map[string]*counts{}
	for _, name := range []string{"boogie even", "funk", "straight", "slow", "double shuffle", "shuffle"} {
		by[name] = &counts{}
	}
	want := []string{"shuffle", "straight", "slow", "boogie even", "double shuffle", "funk"}
	if got := ordered(by); !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}
