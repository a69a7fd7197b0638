package grid

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"blowdraw/tabber/tab"
)

func document(bpm float64, times ...float64) tab.Document {
	d := tab.Document{BPM: bpm}
	for i := 0; i+1 < len(times); i += 2 {
		d.Events = append(d.Events, tab.Event{Start: times[i], End: times[i+1]})
	}
	return d
}

func TestAtAndTime(t *testing.T) {
	g := Grid{Beats: []float64{1, 1.5, 2.5}, PerBar: 4}
	for _, c := range [][2]float64{{0.5, -1}, {1, 0}, {1.25, 0.5}, {1.5, 1}, {2, 1.5}, {3.5, 3}} {
		if got := g.At(c[0]); math.Abs(got-c[1]) > 1e-9 {
			t.Errorf("%g s is at beat %g, want %g", c[0], got, c[1])
		}
		if got := g.Time(c[1]); math.Abs(got-c[0]) > 1e-9 {
			t.Errorf("beat %g is at %g s, want %g", c[1], got, c[0])
		}
	}
}

// words writes pieces as a reader would: q. for a dotted quarter, 8t for an eighth
// of a triplet, r before a rest, ~ behind a tie.
func words(bars []Bar) string {
	var out []string
	for _, b := range bars {
		for _, p := range b.Pieces {
			s := []string{"w", "h", "q", "8", "16", "32", "64"}[p.Kind]
			if len(p.Events) == 0 {
				s = "r" + s
			}
			if p.Dotted {
				s += "."
			}
			if p.Triplet {
				s += "t"
			}
			if p.TieTo {
				s += "~"
			}
			out = append(out, s)
		}
		out = append(out, "|")
	}
	return strings.Join(out, " ")
}

// At 60 beats a minute a beat is a second.
func TestBars(t *testing.T) {
	for _, c := range []struct {
		name  string
		times []float64
		want  string
	}{
		{"quarters", []float64{0, 1, 1, 2, 2, 4}, "q q h |"},
		{"small gaps are closed", []float64{0, 0.8, 1, 1.9, 2, 4}, "q q h |"},
		{"a rest", []float64{0, 1, 2, 4}, "q rq h |"},
		{"shuffle", []float64{0, 0.66, 0.67, 1, 1, 1.65, 1.66, 2, 2, 4}, "qt 8t qt 8t h |"},
		{"triplets", []float64{0, 0.33, 0.34, 0.67, 0.67, 1, 1, 4}, "8t 8t 8t h. |"},
		{"straight", []float64{0, 0.5, 0.5, 1, 1, 1.25, 1.25, 2, 2, 4}, "8 8 16 8. h |"},
		{"over the beat", []float64{0, 0.5, 0.5, 1.5, 1.5, 2, 2, 4}, "8 8~ 8 8 h |"},
		{"dotted quarter", []float64{0, 1.5, 1.5, 2, 2, 4}, "q. 8 h |"},
		{"over the bar", []float64{0, 3, 3, 5}, "h. q~ | q rh. |"},
		{"out of a triplet", []float64{0, 0.67, 0.67, 2, 2, 4}, "qt 8t~ q h |"},
		{"sloppy", []float64{0, 0.52, 0.53, 0.97, 1.04, 1.9, 2.03, 3.9}, "8 8 q h |"},
	} {
		d := document(60, c.times...)
		g := Of(d)
		if got := words(g.Bars(g.Spans(d))); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

// Bar lines of the tab count, and in 12/8 a beat is three eighths.
func TestOwnBars(t *testing.T) {
	d := document(60, 0.5, 1, 1, 1.67, 1.67, 2, 2, 3, 3, 5, 5.5, 5.8)
	d.Bars = []tab.Bar{{Number: 5, Start: 1}, {Number: 6, Start: 5}, {Number: 7, Start: 7}}
	g := Of(d)
	if got, want := words(g.Bars(g.Spans(d))), "rh. r8 8 | qt 8t q h | rq 8 r8 rh |"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	d.Meter = "12/8"
	g = Of(d)
	bars := g.Bars(g.Spans(d))
	if got, want := words(bars), "rh. rq. r8. 8. | q 8 q. h. | rq. q r8 rh. |"; got != want {
		t.Errorf("12/8: %s, want %s", got, want)
	}
	if bars[0].Number != 4 || bars[2].Number != 6 {
		t.Errorf("bars %d to %d, want 4 to 6", bars[0].Number, bars[2].Number)
	}
}

// Whatever the events: bars are full, nothing is lost, ties join what belongs
// together, triplet groups are whole.
func TestBarsRandom(t *testing.T) {
	for seed := range uint64(3000) {
		rng := rand.New(rand.NewPCG(seed, 1))
		var times []float64
		at := 10 * rng.Float64()
		for range 1 + rng.IntN(40) {
			length := 0.002 + rng.ExpFloat64()*0.3
			times = append(times, at, at+length*2*rng.Float64())
			at += length * float64(rng.IntN(6)) / 3
		}
		d := document(40+160*rng.Float64(), times...)
		d.Meter = []string{"", "4/4", "3/4", "12/8"}[rng.IntN(4)]
		if rng.IntN(2) == 0 {
			d.Bars = []tab.Bar{{Number: 1, Start: times[0] + 1}, {Number: 2, Start: times[0] + 3}}
		}
		g := Of(d)
		bars := g.Bars(g.Spans(d))
		begun := map[int]int{}
		open := false // a tie into what follows
		for n, b := range bars {
			sum := 0
			group := false
			for _, p := range b.Pieces {
				if p.TiedFrom != open {
					t.Fatalf("seed %d, bar %d: a tie hangs loose", seed, n)
				}
				open = p.TieTo
				if p.Starts && group || p.Triplet && !p.Starts && !group || !p.Triplet && group {
					t.Fatalf("seed %d, bar %d: a triplet group is broken", seed, n)
				}
				group = p.Triplet && !p.Stops
				written := float64(4*Unit) / math.Pow(2, float64(p.Kind))
				if p.Dotted {
					written *= 1.5
				}
				if p.Triplet {
					written *= 2. / 3
				}
				if g.Compound { // a quarter is two thirds of a beat
					written *= 2. / 3
				}
				if math.Abs(written-float64(p.Length)) > 1e-9 {
					t.Fatalf("seed %d: %+v lasts %g as written", seed, p, written)
				}
				sum += p.Length
				if !p.TiedFrom {
					for _, e := range p.Events {
						begun[e]++
					}
				}
			}
			if sum != g.PerBar*Unit {
				t.Fatalf("seed %d, bar %d: %d units", seed, n, sum)
			}
		}
		for i := range d.Events {
			if begun[i] != 1 {
				t.Fatalf("seed %d: event %d begins %d times", seed, i, begun[i])
			}
		}
	}
}
