package measure

import (
	"math"
	"slices"
	"strings"
	"testing"

	"blowdraw/onset/form"
	"blowdraw/tabber/tab"
)

// The pace of a bass drum is measured as it was played, 1.23 % faster than stated, and
// not at a neighbour's.
func TestStruckPace(t *testing.T) {
	const rate, bpm, pace = 22050, 96.0, 1.0123
	x := make([]float64, 20*rate)
	for beat := 0.0; ; beat++ {
		from := int(beat * 60 / (bpm * pace) * rate)
		if from >= len(x) {
			break
		}
		for i := from; i < min(from+rate/10, len(x)); i++ {
			s := float64(i-from) / rate
			x[i] += math.Exp(-30*s) * math.Sin(2*math.Pi*60*s)
		}
	}
	var s form.Sound
	s.Add(x, rate, 0, 0)
	if got := struckPace(s, bpm); math.Abs(got-pace) > 0.001 {
		t.Errorf("%.4f, want %.4f", got, pace)
	}
}

// Counts of four transcriptions by hand: bars where they are stated are right, a little late
// ones too, bars a beat late are not, and none written is not right.
func TestFirstsCounted(t *testing.T) {
	truth := tab.Document{BPM: 120, Bars: []tab.Bar{{Start: 0}, {Start: 2}}}
	bars := func(late float64) (d tab.Document) {
		for k := 5; k < 10; k++ {
			d.Bars = append(d.Bars, tab.Bar{Start: 2*float64(k) + late})
		}
		return d
	}
	f := firsts{name: "a", tier: "record", band: true, bpm: 120, pace: 1.0004}
	for _, est := range []tab.Document{bars(0), bars(0.1), bars(0.5), {}} {
		f.add(truth, est)
	}
	if !slices.Equal(f.right, []bool{true, true, false, false}) {
		t.Errorf("right %v", f.right)
	}
	var b strings.Builder
	printFirstClips(&b, []firsts{f}, []float64{0, 2, 3.5, 5})
	printFirsts(&b, []firsts{f}, []float64{0, 2, 3.5, 5})
	for _, want := range []string{
		"a                        120  1.0004                      +     +     -     .\n",
		"record                             4       3       2\n",
		"with a band, from 0                1       1       1\n",
		"with a band, from over 0           3       2       1\n",
	} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no line %q in\n%s", want, b.String())
		}
	}
}

func TestParseStarts(t *testing.T) {
	if got, err := ParseStarts("0, 3.1,7"); err != nil || !slices.Equal(got, []float64{0, 3.1, 7}) {
		t.Errorf("%v, %v", got, err)
	}
	for _, bad := range []string{"", "1,", "-1", "NaN", "+Inf", "1;2"} {
		if _, err := ParseStarts(bad); err == nil {
			t.Errorf("%q: no error", bad)
		}
	}
}
