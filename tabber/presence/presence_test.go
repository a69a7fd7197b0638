package presence

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/tab"
)

// The search finds what trying every sequence finds.
func TestLikeliest(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		n := 1 + rng.IntN(9)
		odds, cost := make([]float64, n), make([]float64, n)
		for i := range odds {
			odds[i], cost[i] = 4*rng.NormFloat64(), 5*rng.Float64()
		}
		total := func(yes []bool) float64 {
			sum := 0.0
			for i, y := range yes {
				if y {
					sum += odds[i]
				}
				if i > 0 && y != yes[i-1] {
					sum -= cost[i]
				}
			}
			return sum
		}
		best := math.Inf(-1)
		for bits := range 1 << n {
			yes := make([]bool, n)
			for i := range yes {
				yes[i] = bits>>i&1 == 1
			}
			best = max(best, total(yes))
		}
		if got := total(likeliest(odds, cost)); math.Abs(got-best) > 1e-9 {
			t.Fatalf("odds %.2f, costs %.2f: found %.3f, best %.3f", odds, cost, got, best)
		}
	}
}

// The probabilities are those of adding up every sequence.
func TestPosterior(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range 100 {
		n := 1 + rng.IntN(8)
		odds, cost := make([]float64, n), make([]float64, n)
		for i := range odds {
			odds[i], cost[i] = 4*rng.NormFloat64(), 5*rng.Float64()
		}
		total, with := 0.0, make([]float64, n)
		for bits := range 1 << n {
			log := 0.0
			for i := range n {
				if bits>>i&1 == 1 {
					log += odds[i]
				}
				if i > 0 && bits>>i&1 != bits>>(i-1)&1 {
					log -= cost[i]
				}
			}
			total += math.Exp(log)
			for i := range n {
				if bits>>i&1 == 1 {
					with[i] += math.Exp(log)
				}
			}
		}
		for i, p := range posterior(odds, cost) {
			if math.Abs(p-with[i]/total) > 1e-9 {
				t.Fatalf("odds %.2f, costs %.2f: block %d has %.4f, want %.4f", odds, cost, i, p, with[i]/total)
			}
		}
	}
}

func TestBridge(t *testing.T) {
	long := 1 + int(math.Ceil(space/blockSeconds))
	kinds, ours := []Kind{Harp}, []Kind{Harp}
	add := func(n int, k, o Kind) {
		for range n {
			kinds, ours = append(kinds, k), append(ours, o)
		}
	}
	add(3, Voice, none) // a rest within a solo, whatever it sounds like
	add(1, Harp, Harp)
	add(long, Other, none)
	add(1, Harp, Harp)
	add(2, Other, none)
	add(1, Other, Other) // somebody else's note: no harp around it
	add(2, Other, none)
	add(1, Harp, Harp)
	want := slices.Clone(kinds)
	want[1], want[2], want[3] = Harp, Harp, Harp
	if got := bridge(kinds, ours); !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

func TestOf(t *testing.T) {
	s := Players{Stretches: []Stretch{{Other, 0, 2}, {Harp, 2, 5}, {Voice, 5, 9}}}
	for _, c := range []struct {
		start, end float64
		want       Kind
	}{{0, 1, Other}, {1.5, 2.6, Harp}, {4.5, 6, Voice}, {20, 21, Harp}} {
		if got := s.Of(c.start, c.end); got != c.want {
			t.Errorf("from %g to %g: %v, want %v", c.start, c.end, got, c.want)
		}
	}
}

// tones makes frames of silence for samples that hold a tone whose pitch moves
// by cents a frame.
func tones(seconds, hz, cents float64) (pitch.Frames, decode.Clip) {
	c := decode.Clip{Rate: pitch.Rate, Samples: make([]float64, int(seconds*pitch.Rate))}
	phase := 0.0
	for i := range c.Samples {
		phase += hz * math.Exp2(cents/1200*float64(i)/pitch.Hop) / pitch.Rate
		c.Samples[i] = 0.1 * math.Sin(2*math.Pi*phase)
	}
	f := pitch.NewFrames(pitch.Axis{Base: 60}, 0, len(c.Samples)/pitch.Hop+1)
	f.Breath, f.Count = make([][3]float32, f.N), make([][4]float32, f.N)
	return f, c
}

// A tone that slides by so many cents a frame is measured to do so.
func TestGlide(t *testing.T) {
	for _, cents := range []float64{0, 5, 12, -8} {
		f, c := tones(1, 900, cents)
		var track Track
		track.sketch(f, c)
		mid := cuesOf(track.all()[3:6])
		if got := mid[gliding]; math.Abs(got-math.Abs(cents)) > 1 {
			t.Errorf("a slide of %g cents a frame is measured as %.2f", cents, got)
		}
	}
}

// Windows that overlap give the blocks that the whole gives.
func TestWindows(t *testing.T) {
	f, c := tones(4, 500, 2)
	var whole, parts Track
	whole.sketch(f, c)
	half, overlap := 150, 40
	first := f
	first.N = half
	parts.sketch(first, decode.Clip{Rate: c.Rate, Samples: c.Samples[:(half-1)*pitch.Hop]})
	second := f
	second.N, second.Start = f.N-(half-overlap), f.Time(half-overlap)
	parts.sketch(second, decode.Clip{Rate: c.Rate, Start: second.Start, Samples: c.Samples[(half-overlap)*pitch.Hop:]})
	a, b := whole.Blocks([]tab.Event{}), parts.Blocks(nil)
	if len(a) != len(b) || len(a) == 0 {
		t.Fatalf("%d blocks of the whole, %d of the parts", len(a), len(b))
	}
	for i := range a {
		for k := range a[i].Cues {
			if math.Abs(a[i].Cues[k]-b[i].Cues[k]) > 0.02*(1+math.Abs(a[i].Cues[k])) {
				t.Errorf("block %d cue %d: %g of the whole, %g of the parts", i, k, a[i].Cues[k], b[i].Cues[k])
			}
		}
	}
}
