package reading

import (
	"math"
	"math/rand/v2"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/harp/harptest"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/tab"
)

// noisy are frames in which notes of a C harp come and go, heard badly.
func noisy(seed uint64, n int) pitch.Frames {
	rng := rand.New(rand.NewPCG(seed, 3))
	f := pitch.NewFrames(pitch.Axis{Base: 60}, 0, n)
	f.Breath, f.Count, f.Loud = make([][3]float32, n), make([][4]float32, n), make([]float32, n*pitch.Rows)
	r := 5
	for t := range n {
		begins := t%15 == 0
		if begins {
			r = 1 + rng.IntN(36)
			f.Event[t] = 0.9 * rng.Float32()
		}
		for k := range pitch.Rows {
			i := t*pitch.Rows + k
			f.Sounding[i], f.Attack[i], f.Loud[i], f.Cents[i] = 0.3*rng.Float32(), 0.1*rng.Float32(), -60, float32(
				math.NaN(),
			)
			if k == r {
				f.Sounding[i], f.Loud[i], f.Cents[i] = 1-0.6*rng.Float32(), -20, 10
				if begins {
					f.Attack[i] = rng.Float32()
				}
			}
		}
		f.Breath[t] = [3]float32{0.2, 0.3, 0.5}
		f.Count[t] = [4]float32{0.1, 0.6, 0.2, 0.1}
	}
	return f
}

func readerC(t *testing.T) Reader {
	t.Helper()
	return New(harptest.Of(t, "C", "richter"), lattice.Choice{Several: true})
}

// Whatever is heard, what was chosen and the alternatives are probabilities of
// different things, likeliest alternative first.
func TestReadingsShareOne(t *testing.T) {
	r := readerC(t)
	shown := 0
	for seed := range uint64(6) {
		x := r.Read(Sound{decode.Clip{Rate: pitch.Rate}, noisy(seed, 300)}, Nothing())
		for _, e := range r.Events(x) {
			if !(e.Confidence > 0 && e.Confidence <= 1) {
				t.Fatalf("seed %d, %.2f s: confidence %g", seed, e.Start, e.Confidence)
			}
			if len(e.Actions) == 0 {
				continue
			}
			sum, before := e.Confidence, 1.0
			for _, a := range e.Alternatives {
				if tab.Token(a.Actions) == tab.Token(e.Actions) || a.Confidence > before || a.Confidence < leastAsked {
					t.Errorf(
						"seed %d, %.2f s, %s: alternative %s %g after %g",
						seed,
						e.Start,
						tab.Token(e.Actions),
						tab.Token(a.Actions),
						a.Confidence,
						before,
					)
				}
				sum, before = sum+a.Confidence, a.Confidence
				shown++
			}
			if sum > 1+1e-6 {
				t.Errorf(
					"seed %d, %.2f s, %s: the readings' probabilities add up to %g",
					seed,
					e.Start,
					tab.Token(e.Actions),
					sum,
				)
			}
		}
	}
	if shown < 20 {
		t.Errorf("%d alternatives in all: nothing was tested", shown)
	}
}

// Cues by hand, on frames of which everything is known.
func TestConfidenceCues(t *testing.T) {
	r := readerC(t)
	const n = 40
	f := noisy(1, n)
	for i := range f.Sounding {
		f.Sounding[i], f.Attack[i] = 0, 0
	}
	b4 := harp.Action{Hole: 4}
	state, row := r.States.Playing([]harp.Action{b4}), lattice.Row(r.Harp, b4)
	octave, stray := lattice.Row(
		r.Harp,
		harp.Action{Hole: 7},
	), lattice.Row(
		r.Harp,
		harp.Action{Hole: 5, Breath: harp.Draw},
	)
	for k := 10; k < 30; k++ {
		f.Sounding[k*pitch.Rows+row] = 0.9
		f.Sounding[k*pitch.Rows+octave] = 0.25
		f.Sounding[k*pitch.Rows+stray] = 0.5
		f.Cents[k*pitch.Rows+row] = -30
		f.Count[k] = [4]float32{0, 0.8, 0.2, 0}
	}
	p := lattice.Posterior{
		States: len(r.States),
		In:     make([]float32, n*len(r.States)),
		Begin:  make([]float32, n*len(r.States)),
	}
	p.Begin[11*p.States+state], p.Begin[14*p.States+state], p.Begin[15*p.States+state] = 0.5, 0.25, 0.125
	f.Attack[12*pitch.Rows+row], f.Attack[14*pitch.Rows+row] = 0.3, 0.7 // the second is too late
	before := func(state, to int) Span { return Span{Span: lattice.Span{State: state, From: 0, To: to}} }
	s := Span{Span: lattice.Span{State: state, From: 10, To: 30, Found: 10}}
	got := r.ConfidenceCues(f, p, []Span{s}, 0)
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"begins", got[cueBegins], math.Log(0.75 / 0.25)}, // four frames after it count, five do not
		{"counted", got[cueCounted], math.Log(0.8 / 0.2)},
		{"companion", got[cueCompanion], math.Log(0.25 / 0.75)}, // the octave, not the draw note
		{"octave", got[cueOctave], oddsMost},                    // nothing was asked
		{"chord", got[cueChord], 0},
		{"weakest", got[cueWeakest], math.Log(0.9 / 0.1)},
		{"fourth", got[cueFourth], 0},
		{"again, first", got[cueAgain], 0},
		{"again", r.ConfidenceCues(f, p, []Span{before(state, 5), s}, 1)[cueAgain], 0.7},
		{"again, later", r.ConfidenceCues(f, p, []Span{before(state, 4), s}, 1)[cueAgain], 0},
		{"again, another", r.ConfidenceCues(f, p, []Span{before(state+1, 10), s}, 1)[cueAgain], 0},
	} {
		if math.Abs(c.got-c.want) > 1e-5 {
			t.Errorf("%s = %.5f, want %.5f", c.name, c.got, c.want)
		}
	}
	four := []harp.Action{{Hole: 1}, {Hole: 2}, {Hole: 3}, {Hole: 4}}
	for n := 1; n <= 4; n++ {
		s.State = r.States.Playing(four[:n])
		got := r.ConfidenceCues(f, p, []Span{s}, 0)
		if (got[cueChord] == 1) != (n >= 3) || (got[cueFourth] == 1) != (n >= 4) {
			t.Errorf("%d reeds: chord %g, fourth %g", n, got[cueChord], got[cueFourth])
		}
	}
	if v := odds(0); v != -oddsMost {
		t.Errorf("odds(0) = %g", v)
	}
	if v := odds(1); v != oddsMost {
		t.Errorf("odds(1) = %g", v)
	}
}
