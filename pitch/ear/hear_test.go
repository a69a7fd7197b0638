package ear

import (
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"blowdraw/pitch"
)

// melody is seconds of made-up reeds, a new one or two every 0.3 s, in noise.
func melody(seconds float64) []float64 {
	rng := rand.New(rand.NewPCG(5, 6))
	x := make([]float64, int(seconds*pitch.Rate))
	var hz [2]float64
	for i := range x {
		if i%(pitch.Rate*3/10) == 0 {
			hz = [2]float64{pitch.MIDIToHz(60 + float64(rng.IntN(24))), 0}
			if rng.IntN(3) == 0 {
				hz[1] = hz[0] * math.Exp2(4.0/12)
			}
		}
		for _, f := range hz {
			_, saw := math.Modf(f * float64(i) / pitch.Rate)
			x[i] += 0.2 * saw
		}
		x[i] += 0.01 * rng.NormFloat64()
	}
	return x
}

func sameFrames(t *testing.T, got, want pitch.Frames, what string) {
	t.Helper()
	if got.N != want.N || got.Start != want.Start || got.Axis != want.Axis {
		t.Fatalf("%s: %d frames from %g, want %d from %g", what, got.N, got.Start, want.N, want.Start)
	}
	for _, f := range []struct {
		name      string
		got, want []float32
	}{
		{"Sounding", got.Sounding, want.Sounding}, {"Attack", got.Attack, want.Attack},
		{"Cents", got.Cents, want.Cents}, {"Event", got.Event, want.Event},
		{"Level", got.Level, want.Level}, {"Loud", got.Loud, want.Loud},
		{"Breath", flat(got.Breath), flat(want.Breath)}, {"Count", flat(got.Count), flat(want.Count)},
	} {
		if len(f.got) != len(f.want) {
			t.Errorf("%s: %d values of %s, want %d", what, len(f.got), f.name, len(f.want))
			continue
		}
		for k, v := range f.got {
			if math.Float32bits(v) != math.Float32bits(f.want[k]) {
				t.Errorf("%s: %s of frame %d is %g, want %g", what, f.name, k*want.N/len(f.want), v, f.want[k])
				break
			}
		}
	}
}

// flat joins frames of three or four values.
func flat[T [3]float32 | [4]float32](x []T) []float32 {
	var out []float32
	for _, v := range x {
		switch v := any(v).(type) {
		case [3]float32:
			out = append(out, v[:]...)
		case [4]float32:
			out = append(out, v[:]...)
		}
	}
	return out
}

var testAxis = pitch.Axis{Base: 60, Cents: -12}

func TestSameOnAnyNumberOfProcessors(t *testing.T) {
	e := newEar(t)
	x := melody(3)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	one := e.hear(x, 0, testAxis, 48)
	runtime.GOMAXPROCS(4)
	sameFrames(t, e.hear(x, 0, testAxis, 48), one, "GOMAXPROCS=4")
}

func TestHearShortInput(t *testing.T) {
	e := newEar(t)
	for _, n := range []int{0, 1, 2, pitch.Hop - 1, pitch.Hop, pitch.Hop + 1, 5 * pitch.Hop} {
		f := e.Hear(noise(1)[:n], 1.5, testAxis)
		want := n/pitch.Hop + 1
		if f.N != want || f.Start != 1.5 || len(f.Sounding) != want*pitch.Rows || len(f.Event) != want {
			t.Errorf("%d samples: %d frames from %g with %d rows, want %d", n, f.N, f.Start, len(f.Sounding), want)
		}
		for name, values := range map[string][]float32{
			"Sounding": f.Sounding, "Attack": f.Attack, "Event": f.Event,
			"Breath": flat(f.Breath), "Count": flat(f.Count),
		} {
			for _, p := range values {
				if !(p >= 0 && p <= 1) {
					t.Errorf("%d samples: %s holds %g, no probability", n, name, p)
					break
				}
			}
		}
	}
}

// Silence is heard as silence.
func TestHearSilence(t *testing.T) {
	f := newEar(t).Hear(make([]float64, pitch.Rate), 0, testAxis)
	if loudest := slices.Max(f.Sounding); loudest > 0.3 {
		t.Errorf("a reed sounds in silence: %.3f", loudest)
	}
	for i, b := range f.Breath {
		if b[0] < 0.5 {
			t.Errorf("frame %d: breath in silence: %.3f", i, b)
			break
		}
	}
}
