package tabber

import (
	"math"
	"math/rand/v2"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
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
			f.Sounding[i], f.Attack[i], f.Loud[i], f.Cents[i] = 0.3*rng.Float32(), 0.1*rng.Float32(), -60, float32(math.NaN())
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

func learnedC(t *testing.T) *Transcriber {
	t.Helper()
	h, err := harp.Parse("C", harp.Layouts()[0])
	if err != nil {
		t.Fatal(err)
	}
	tr, err := NewTranscriber(h, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// Whatever is heard, what was chosen and the alternatives are probabilities of
// different things, likeliest alternative first.
func TestReadingsShareOne(t *testing.T) {
	tr := learnedC(t)
	shown := 0
	for seed := range uint64(6) {
		events, _ := tr.events(decode.Clip{Rate: pitch.Rate}, noisy(seed, 300), always)
		for _, e := range events {
			if !(e.Confidence > 0 && e.Confidence <= 1) {
				t.Fatalf("seed %d, %.2f s: confidence %g", seed, e.Start, e.Confidence)
			}
			if len(e.Actions) == 0 {
				continue
			}
			sum, before := e.Confidence, 1.0
			for _, a := range e.Alternatives {
				if tab.Token(a.Actions) == tab.Token(e.Actions) || a.Confidence > before || a.Confidence < leastShare {
					t.Errorf("seed %d, %.2f s, %s: alternative %s %g after %g", seed, e.Start, tab.Token(e.Actions), tab.Token(a.Actions), a.Confidence, before)
				}
				sum, before = sum+a.Confidence, a.Confidence
				shown++
			}
			if sum > 1+1e-6 {
				t.Errorf("seed %d, %.2f s, %s: the readings' probabilities add up to %g", seed, e.Start, tab.Token(e.Actions), sum)
			}
		}
	}
	if shown < 20 {
		t.Errorf("%d alternatives in all: nothing was tested", shown)
	}
}

// Features by hand, on frames of which everything is known.
func TestFeatures(t *testing.T) {
	tr := learnedC(t)
	const n = 40
	f := noisy(1, n)
	for i := range f.Sounding {
		f.Sounding[i], f.Attack[i] = 0, 0
	}
	b4 := harp.Action{Hole: 4}
	state, r := 0, row(tr.harp, b4)
	for i, s := range tr.states {
		if len(s.actions) == 1 && s.actions[0] == b4 {
			state = i
		}
	}
	octave, stray := row(tr.harp, harp.Action{Hole: 7}), row(tr.harp, harp.Action{Hole: 5, Breath: harp.Draw})
	for k := 10; k < 30; k++ {
		f.Sounding[k*pitch.Rows+r] = 1
		f.Sounding[k*pitch.Rows+octave] = 0.25
		f.Sounding[k*pitch.Rows+stray] = 0.5
		f.Cents[k*pitch.Rows+r] = -30
		f.Count[k] = [4]float32{0, 0.8, 0.2, 0}
	}
	f.Attack[12*pitch.Rows+r] = 0.75
	p := posterior{s: len(tr.states), in: make([]float32, n*len(tr.states)), begin: make([]float32, n*len(tr.states))}
	p.begin[11*p.s+state], p.begin[12*p.s+state] = 0.6, 0.3
	spans := []span{{state: state, from: 10, to: 30, found: 10}}
	got := tr.features(f, p, spans, always)[0]
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"begins", got[begins], math.Log(0.6 / 0.4)},
		{"counted", got[counted], math.Log(0.8 / 0.2)},
		{"attacked", got[attacked], math.Log(0.75 / 0.25)},
		{"companion", got[companion], math.Log(0.25 / 0.75)}, // the octave, not the draw note
		{"offPitch", got[offPitch], 0.3},
		{"length", got[length], math.Log(20 * pitch.HopSeconds)},
		{"unsure", got[unsure], math.Log(0.75 + 1 + leastDoubtful)},
	} {
		if math.Abs(c.got-c.want) > 1e-5 {
			t.Errorf("%s = %.5f, want %.5f", c.name, c.got, c.want)
		}
	}
	if v := odds(0); v != -oddsMost {
		t.Errorf("odds(0) = %g", v)
	}
	if v := odds(1); v != oddsMost {
		t.Errorf("odds(1) = %g", v)
	}
	c := calibration{constant: 1, weight: [features]float64{begins: 2}}
	if v := c.probability([features]float64{begins: 0.5}); math.Abs(v-1/(1+math.Exp(-2))) > 1e-12 {
		t.Errorf("probability %g", v)
	}
}
