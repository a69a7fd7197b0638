package form

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Beats decided stretch by stretch are those of forward and backward probabilities
// over all of them at once.
func TestStretches(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	key := 4
	m := newModel(4, &key, struckWeights)
	beats := make([]heard, 2*stretch+100)
	for i := range beats {
		for k := range 12 {
			beats[i].treble[k], beats[i].bass[k] = rng.Float64()/12, rng.Float64()/12
		}
		beats[i].kick, beats[i].snare = rng.NormFloat64(), rng.NormFloat64()
	}
	places, evidence := m.decide(beats, 0.8)
	fits, states, want := m.forward(nil, beats, 0.8)
	if math.Abs(evidence-want) > 1e-9*math.Abs(want) {
		t.Errorf("evidence %g, want %g", evidence, want)
	}
	back := make([]float64, m.states())
	for k := range back {
		back[k] = 1
	}
	for i := len(beats) - 1; i >= 0; i-- {
		sums, all := make([]float64, m.places), 0.0
		for k, v := range states[i] {
			sums[k/chords] += v * back[k]
			all += v * back[k]
		}
		for place, v := range sums {
			if math.Abs(places[i][place]-v/all) > 1e-9 {
				t.Fatalf("beat %d, place %d: %g, want %g", i, place, places[i][place], v/all)
			}
		}
		times(back, fits[i])
		back = m.step(back, true)
		normalize(back)
	}
}
