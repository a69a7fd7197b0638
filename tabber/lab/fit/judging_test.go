package fit

import (
	"slices"
	"strings"
	"testing"

	"blowdraw/tabber/lab/score"
)

func said(tier string, p float64, right bool) Judged {
	return Judged{score.Verdict{Said: p, Right: right}, tier}
}

// Counted by hand; the calibration error of dry is (|1.9 - 1| + |0.8 - 1|)/3, that of all
// (0.9 + 0.2 + 0.5)/4.
func TestPrintCalibration(t *testing.T) {
	var b strings.Builder
	PrintCalibration(&b, []Judged{
		said("dry", 0.95, true), said("dry", 0.95, false), said("dry", 0.8, true), said("band0", 0.5, false),
	})
	want := `tier          events   right     p90     c90     p80     p50     ECE
all band           1   0.000       -   0.000       -   0.000   0.500
all solo           3   0.667   0.500   0.667   1.000       -   0.367
band0              1   0.000       -   0.000       -   0.000   0.500
dry                3   0.667   0.500   0.667   1.000       -   0.367
every              4   0.500   0.500   0.500   1.000   0.000   0.400
`
	if b.String() != want {
		t.Errorf("%s\nwant\n%s", b.String(), want)
	}
}

func TestPrintRight(t *testing.T) {
	var b strings.Builder
	PrintRight(&b, []Judged{said("hall", 0.7, true), said("amp", 0.4, false)})
	want := `tier          events   right     ECE
amp                1   0.000   0.400
every              2   0.500   0.350
hall               1   1.000   0.300
`
	if b.String() != want {
		t.Errorf("%s\nwant\n%s", b.String(), want)
	}
}

func TestPrintAnswers(t *testing.T) {
	var b strings.Builder
	PrintAnswers(&b, []Answer{
		{"dry", true, true, true}, {"dry", true, false, true}, {"dry", false, true, false},
	}, [4]string{"single", "octave", "searched", "modelled"})
	want := `tier          single  searched  modelled  octave  searched  modelled
dry                1     0.000     1.000       2     0.500     1.000
every              1     0.000     1.000       2     0.500     1.000
`
	if b.String() != want {
		t.Errorf("%s\nwant\n%s", b.String(), want)
	}
}

// Of four true ones three were heard; from 0.5 on three are written, two of them right.
func TestPrintThresholds(t *testing.T) {
	var b strings.Builder
	PrintThresholds(&b, []Judged{
		said("amp", 0.9, true), said("amp", 0.6, false), said("amp", 0.5, true), said("amp", 0.2, true),
	}, map[string]int{"amp": 4}, []float64{0.5, 0.8, 1})
	const row = "  0.5: P 0.67 R 0.50 F 0.57  0.8: P 1.00 R 0.25 F 0.40  1.0: P - R 0.00 F 0.00  of 4\n"
	if b.String() != "amp         "+row+"every       "+row {
		t.Errorf("%s\nwant rows\n%s", b.String(), row)
	}
}

// Each half is judged by what was fitted to the other.
func TestHeldOut(t *testing.T) {
	halves := Halves([]int{0, 1, 2, 3, 4}, func(n int) int { return n })
	if !slices.Equal(halves[0], []int{0, 2, 4}) || !slices.Equal(halves[1], []int{1, 3}) {
		t.Fatalf("%v", halves)
	}
	got := HeldOut(halves, func(x []int) int { return x[0] }, func(x []int, first int) (out []Judged) {
		for _, n := range x {
			out = append(out, said("", float64(10*first+n), true))
		}
		return out
	})
	var told []float64
	for _, j := range got {
		told = append(told, j.Said)
	}
	if want := []float64{10, 12, 14, 1, 3}; !slices.Equal(told, want) {
		t.Errorf("%v, want %v", told, want)
	}
}

func TestPrintMatters(t *testing.T) {
	var b strings.Builder
	PrintMatters(&b, []string{"wind", "sun"}, [][]float64{{0, 1}, {4, 1}}, []float64{1.5, 2})
	if want := "wind                       3.000\nsun                        0.002\n"; b.String() != want {
		t.Errorf("%s\nwant\n%s", b.String(), want)
	}
}
