package reading

import (
	"math"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp/harptest"
	"blowdraw/tabber/tab"
)

// By the definitions of the words.
func TestDiffers(t *testing.T) {
	h := harptest.Of(t, "C", "richter")
	for _, c := range []struct{ a, b, want string }{
		{"-3'", "-3''", tab.HowFarBent},
		{"-3", "-2", tab.WhichHole},
		{"-4", "4", tab.BlowOrDraw},
		{"-4", "5", tab.BlowOrDraw},
		{"4", "[4 5]", tab.OneOrTwo},
		{"[1 4]", "4", tab.OneOrTwo},
		{"[4 5]", "[4 5 6]", tab.HowManyReeds},
		{"[4 5 6]", "5", tab.HowManyReeds},
		{"4", "[5 6]", tab.WhichHole},
		{"[4 5]", "[5 6]", tab.WhichHole},
		{"[-2 -3]", "[-2 -3']", tab.HowFarBent},
	} {
		a, err := tab.ParseToken(h, c.a)
		if err != nil {
			t.Fatal(err)
		}
		b, err := tab.ParseToken(h, c.b)
		if err != nil {
			t.Fatal(err)
		}
		if got, back := Differs(a, b), Differs(b, a); got != c.want || back != c.want {
			t.Errorf("%s and %s: %s, %s; want %s", c.a, c.b, got, back, c.want)
		}
		if got := Differs(a, nil); got != tab.PerhapsNothing {
			t.Errorf("%s and nothing: %s", c.a, got)
		}
	}
}

// Whatever is heard, each doubtful event has a word for its doubt, with another reading
// where the word asks for one; an undoubted one has none.
func TestTold(t *testing.T) {
	r := readerC(t)
	doubted := 0
	for seed := range uint64(6) {
		x := r.Read(Sound{decode.Clip{Rate: pitch.Rate}, noisy(seed, 300)}, Nothing())
		for _, found := range r.Events(x) {
			for _, harp := range []float64{1, 0.9, 0.2} {
				e := Told(found, harp)
				if math.Abs(e.Confidence-harp*found.Confidence) > 1e-12 {
					t.Fatalf("confidence %g of %g, harp %g", e.Confidence, found.Confidence, harp)
				}
				if len(e.Actions) == 0 {
					continue
				}
				asks, sum := false, 0.0
				for _, d := range e.Doubts {
					asks, sum = asks || tab.AsksReading(d.Word), sum+d.Probability
				}
				if e.Doubtful() {
					doubted++
				}
				if e.Doubtful() != (len(e.Doubts) > 0) || len(e.Doubts) > mostTold || sum > 2 ||
					asks && len(e.Alternatives) == 0 && e.Confidence > 0.1 {
					t.Errorf("seed %d, %.2f s, harp %g: %+v", seed, e.Start, harp, e)
				}
			}
			e := Told(found, 0.2)
			if found.Confidence > 0.9 && len(found.Actions) > 0 && e.Doubts[0].Word != tab.NotTheHarp {
				t.Errorf("%.2f s: %+v", found.Start, e)
			}
		}
	}
	if doubted < 20 {
		t.Errorf("only %d doubtful", doubted)
	}
}
