package score

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"blowdraw/tabber/tab"
)

// readBeats reads one time a line; a line that begins with # is none.
func readBeats(t *testing.T, path string) []float64 {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var out []float64
	for line := range strings.Lines(string(b)) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		var v float64
		if _, err := fmt.Sscan(line, &v); err != nil {
			t.Fatalf("%s: %q: %v", path, line, err)
		}
		out = append(out, v)
	}
	return out
}

// Source: the test fixtures of mir_eval (testdata/mir_eval/README.md), which
// leave out the beats of the first five seconds.
func TestReferenceBeatScores(t *testing.T) {
	const dir = "../../../testdata/mir_eval/"
	late := func(b []float64) []float64 {
		return slices.DeleteFunc(b, func(t float64) bool { return t < 5 })
	}
	for n := range 5 {
		data, err := os.ReadFile(fmt.Sprintf("%sbeat_output%02d.json", dir, n))
		if err != nil {
			t.Fatal(err)
		}
		var want map[string]float64
		if err := json.Unmarshal(data, &want); err != nil {
			t.Fatal(err)
		}
		ref := late(readBeats(t, fmt.Sprintf("%sbeat_ref%02d.txt", dir, n)))
		est := late(readBeats(t, fmt.Sprintf("%sbeat_est%02d.txt", dir, n)))
		for name, got := range map[string]float64{"F-measure": Beats(ref, est), "P-score": PScore(ref, est)} {
			if w, ok := want[name]; !ok || math.Abs(got-w) > 1e-6 {
				t.Errorf("file %02d: %s = %.9f, want %.9f", n, name, got, w)
			}
		}
	}
}

func TestBeatScoresOfLittle(t *testing.T) {
	beats := []float64{1, 1.5, 2}
	if f, p := Beats(beats, beats), PScore(beats, beats); f != 1 || p != 1 {
		t.Errorf("the same beats: F %g, P %g, want 1", f, p)
	}
	for _, few := range [][]float64{nil, {9}, {9, 9}} {
		if f, p := Beats(few, beats), PScore(few, beats); f != 0 || p != 0 {
			t.Errorf("%v: F %g, P %g, want 0", few, f, p)
		}
	}
	if p := PScore([]float64{1, 2, 3, 4}, []float64{1, 1.5, 2, 2.5, 3, 3.5, 4}); math.Abs(p-4./7) > 1e-9 {
		t.Errorf("twice as many beats: P %g, want 4/7", p)
	}
}

func TestGrid(t *testing.T) {
	beats := []float64{1, 1.6, 2.2}
	// 0.9 and 2.5 lie outside; 1.02 is off by 0.02, 1.38 by 0.02 of 2/3, 1.5 by 0.05 of 3/4.
	if got := Grid([]float64{0.9, 1.02, 1.38, 1.5, 2.5}, beats); math.Abs(got-0.03) > 1e-9 {
		t.Errorf("%g", got)
	}
	if got := Grid(nil, beats); !math.IsNaN(got) {
		t.Errorf("of nothing: %g", got)
	}
}

func TestBars(t *testing.T) {
	ref := tab.Document{BPM: 120, Bars: []tab.Bar{{Start: 0}, {Start: 2}, {Start: 4}}}
	for _, c := range []struct {
		at             []float64
		right, written float64
	}{
		{nil, math.NaN(), 0}, {[]float64{0.1, 2.2, 4}, 1, 1}, {[]float64{0, 2.3, 5, 4.1}, 0.5, 1},
	} {
		var est tab.Document
		for _, at := range c.at {
			est.Bars = append(est.Bars, tab.Bar{Start: at})
		}
		m := Compare(ref, est, 0.05)
		if m.Bars != c.right && !(math.IsNaN(m.Bars) && math.IsNaN(c.right)) || m.Barred != c.written {
			t.Errorf("%v: %g, %g", c.at, m.Bars, m.Barred)
		}
	}
}

// What counts as a right first beat, by hand: bars of two seconds from half a second on.
func TestFirstBeat(t *testing.T) {
	ref := tab.Document{BPM: 120, Bars: []tab.Bar{{Start: 0.5}, {Start: 2.5}, {Start: 4.5}}}
	for _, c := range []struct {
		name string
		at   []float64
		want bool
	}{
		{"exact", []float64{0.5, 2.5, 4.5}, true},
		{"begun later", []float64{4.5, 6.5, 8.5, 10.5}, true},
		{"a fifth of a beat late", []float64{0.6, 2.6, 4.6}, true},
		{"a fifth of a beat early", []float64{0.4, 2.4, 4.4}, true},
		{"0.3 beats late", []float64{0.65, 2.65, 4.65}, false},
		{"a beat late", []float64{1, 3, 5}, false},
		{"two beats late, to either side", []float64{1.49, 3.51, 5.49, 7.51}, false},
		{"most right", []float64{0.5, 2.5, 4.5, 7}, true},
		{"half right", []float64{0.5, 2.5, 5, 7}, false},
		{"bars twice as long", []float64{0.5, 4.5, 8.5}, false},
		{"bars half as long", []float64{0.5, 1.5, 2.5, 3.5, 4.5}, false},
		{"one bar", []float64{2.5}, true},
		{"none", nil, false},
		{"twenty bars on, at 1 % more than stated", []float64{0.5 + 40/1.01, 0.5 + 42/1.01}, false},
	} {
		var est tab.Document
		for _, at := range c.at {
			est.Bars = append(est.Bars, tab.Bar{Start: at})
		}
		if got := FirstBeat(ref, est); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
	if FirstBeat(tab.Document{BPM: 120}, ref) {
		t.Error("right although no bars are known")
	}
}
