package logistic

import (
	"math"
	"strings"
	"testing"
)

const file = `{"model": "rain", "says": "that it rains", "fitted_on": ["a year"], "stands_on": {"sky": "1"},
 "constant": -1.5, "weights": [{"name": "cloud", "value": 2}, {"name": "wind", "value": -0.5}]}`

// The weights go to the values by name, whatever order the file has them in.
func TestByName(t *testing.T) {
	f, err := Parse([]byte(file))
	if err != nil {
		t.Fatal(err)
	}
	m, err := f.Of([]string{"wind", "cloud"})
	if err != nil {
		t.Fatal(err)
	}
	if z := m.Odds([]float64{1, 3}); z != -1.5-0.5+6 {
		t.Errorf("odds %g, want 4", z)
	}
	// 1/(1+exp(-4)), from a table of the logistic function.
	if p := m.Probability([]float64{1, 3}); math.Abs(p-0.98201379) > 1e-8 {
		t.Errorf("probability %.8f, want 0.98201379", p)
	}
}

func TestNamesMustFit(t *testing.T) {
	f, err := Parse([]byte(file))
	if err != nil {
		t.Fatal(err)
	}
	for _, names := range [][]string{{"wind"}, {"wind", "cloud", "sun"}, {"wind", "sun"}} {
		if _, err := f.Of(names); err == nil || !strings.Contains(err.Error(), "rain") {
			t.Errorf("%q: error %v, want one that names the model", names, err)
		}
	}
}

func TestOddsWithinBounds(t *testing.T) {
	for p, want := range map[float64]float64{0: -6, 1: 6, 0.5: 0, 0.9: math.Log(9)} {
		if z := Odds(p, 6); math.Abs(z-want) > 1e-12 {
			t.Errorf("odds of %g are %g, want %g", p, z, want)
		}
	}
}
