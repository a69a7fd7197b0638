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

// sequences calls f for every sequence of answers, with its log likelihood.
func sequences(odds, cost []float64, f func(yes []bool, log float64)) {
	n := len(odds)
	for bits := range 1 << n {
		yes, log := make([]bool, n), 0.0
		for i := range yes {
			if yes[i] = bits>>i&1 == 1; yes[i] {
				log += odds[i]
			}
			if i > 0 && yes[i] != yes[i-1] {
				log -= cost[i]
			}
		}
		f(yes, log)
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
		sequences(odds, cost, func(yes []bool, log float64) {
			total += math.Exp(log)
			for i, y := range yes {
				if y {
					with[i] += math.Exp(log)
				}
			}
		})
		sure, all := posterior(odds, cost)
		for i, p := range sure {
			if math.Abs(p-with[i]/total) > 1e-9 {
				t.Fatalf("odds %.2f, costs %.2f: block %d has %.4f, want %.4f", odds, cost, i, p, with[i]/total)
			}
		}
		if math.Abs(all-math.Log(total)) > 1e-9 {
			t.Fatalf("odds %.2f, costs %.2f: all is %.4f, want %.4f", odds, cost, all, math.Log(total))
		}
	}
}

// That all events are a harp's, or none is, is preferred by as much as stated, in
// what is decided and in what is believed.
func TestMixed(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	turned := 0
	for range 300 {
		n := 1 + rng.IntN(8)
		odds, cost := make([]float64, n), make([]float64, n)
		for i := range odds {
			odds[i], cost[i] = 1+3*rng.NormFloat64(), 5*rng.Float64()
		}
		best, top := []bool(nil), math.Inf(-1)
		total, with := 0.0, make([]float64, n)
		sequences(odds, cost, func(yes []bool, log float64) {
			weight := math.Exp(log - mixed)
			if !slices.Contains(yes, !yes[0]) {
				weight += math.Exp(log)
			} else {
				log -= mixed
			}
			if log > top {
				best, top = yes, log
			}
			total += weight
			for i, y := range yes {
				if y {
					with[i] += weight
				}
			}
		})
		if got := decided(odds, cost); !slices.Equal(got, best) {
			t.Fatalf("odds %.2f, costs %.2f: decided %v, want %v", odds, cost, got, best)
		}
		if !slices.Equal(best, likeliest(odds, cost)) {
			turned++
		}
		believe, _ := weighed(odds, cost)
		for i, p := range believe {
			if math.Abs(p-with[i]/total) > 1e-9 {
				t.Fatalf("odds %.2f, costs %.2f: event %d has %.4f, want %.4f", odds, cost, i, p, with[i]/total)
			}
		}
	}
	// What is in favour of the harp does not make one where none plays.
	bare, favoured, cost := make([]float64, 40), make([]float64, 40), make([]float64, 40)
	for i := range bare {
		bare[i], favoured[i], cost[i] = -1, 1, switching
	}
	for i, p := range believed(bare, favoured, cost) {
		if p > 0.1 {
			t.Fatalf("event %d of a recording without a harp has %.3f", i, p)
		}
	}
	for i := range bare {
		if bare[i] = 2; i == 20 {
			bare[i] = -1
		}
		favoured[i] = bare[i] + 1
	}
	few, _ := weighed(bare, cost)
	if p := believed(bare, favoured, cost)[20]; p < few[20] {
		t.Errorf("a doubtful note among a harp's has %.3f, without the favour %.3f", p, few[20])
	}
	if turned < 10 {
		t.Errorf("the preference changed %d of 300 decisions, want more", turned)
	}
}

// A harp's notes make one stretch over a short rest, two over a long one or around
// somebody else's note.
func TestJoin(t *testing.T) {
	at := func(start, end float64) Event { return Event{Event: tab.Event{Start: start, End: end}} }
	events := []Event{at(0, 1), at(1+0.9*space, 5), at(5+1.1*space, 11), at(11, 11.5), at(12, 13)}
	got := harpStretches(events, []bool{true, true, true, false, true})
	want := []Stretch{{Harp, 0, 5}, {Harp, 5 + 1.1*space, 11}, {Harp, 12, 13}}
	if !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

// Stretches cover everything once, and the harp's are kept as they are.
func TestStretches(t *testing.T) {
	track := Track{start: 10}
	const b = blockSeconds
	got := track.stretches(
		[]Kind{Other, Other, Voice, Voice, Voice, Other},
		[]Stretch{{Harp, 10, 10 + 0.5*b}, {Harp, 10 + 2.5*b, 10 + 3.25*b}},
	)
	want := []Stretch{{Harp, 10, 10 + 0.5*b}, {Other, 10 + 0.5*b, 10 + 2*b}, {Voice, 10 + 2*b, 10 + 2.5*b},
		{Harp, 10 + 2.5*b, 10 + 3.25*b}, {Voice, 10 + 3.25*b, 10 + 5*b}, {Other, 10 + 5*b, 10 + 6*b}}
	if !slices.Equal(got, want) {
		t.Errorf("got  %v\nwant %v", got, want)
	}
}

// An event is called by who plays around it; where nothing was heard all is the harp's.
func TestWhoPlays(t *testing.T) {
	p := Players{Stretches: []Stretch{{Other, 0, 2}, {Harp, 2, 5}, {Voice, 5, 9}}}
	if a, b := p.mostly(1, 2.5), p.mostly(4.5, 6); a != Other || b != Voice {
		t.Errorf("%v and %v, want %v and %v", a, b, Other, Voice)
	}
	unheard := new(Track).Players([]Event{{Event: tab.Event{Start: 20, End: 21}}})
	if v := unheard.Verdicts; len(v) != 1 || v[0] != (Verdict{Harp, 1}) {
		t.Errorf("%v of an event of which nothing was heard", v)
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
		mid := cuesOf(track.unsummed()[3:6])
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
	parts.sketch(
		second,
		decode.Clip{Rate: c.Rate, Start: second.Start, Samples: c.Samples[(half-overlap)*pitch.Hop:]},
	)
	a, b := whole.Blocks([]Event{}), parts.Blocks(nil)
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
