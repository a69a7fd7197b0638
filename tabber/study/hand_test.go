package study_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"blowdraw/tabber/study"
	"blowdraw/tabber/tab"
)

const byHand = `blowdraw tab 1
section: 0:00.000 to 0:16.000
harp: C
song: G
tempo: 60 bpm
meter: 4/4
form: twelve-bar
bar 1 0:00.000 I
Phrase
0:00.000 2.0 -2
0:02.000 2.0 -4
bar 2 0:04.000 IV
Phrase
0:05.333 1.5 -5 vibrato
Phrase
0:07.667 2.0 -4
bar 3 0:08.000 V
bar 4 0:12.000 I
`

func handMade(t *testing.T, text string) study.Study {
	t.Helper()
	d, err := tab.Parse(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return study.Of([]tab.Document{d})
}

// value of a measure; -1 if there is none.
func value(list []study.Measure, name, over string) float64 {
	i := slices.IndexFunc(list, func(m study.Measure) bool { return m.Name == name && m.Over == over })
	if i < 0 {
		return -1
	}
	return list[i].Value
}

// Worked out by hand. On a C harp in G draw 2 is 1, draw 4 is 5, draw 5 b7; the last draw 4
// sounds 0.333 s over IV and 1.667 s over V.
func TestByHand(t *testing.T) {
	s := handMade(t, byHand)
	for _, c := range []struct {
		list       []study.Measure
		name, over string
		want       float64
	}{
		{s.Notes.Shares, "1", "", 2 / 7.5},
		{s.Notes.Shares, "5", "", 4 / 7.5},
		{s.Notes.Shares, "1", "I", 0.5},
		{s.Notes.Shares, "b7", "IV", 1.5 / 1.833},
		{s.Notes.Shares, "5", "IV", 0.333 / 1.833},
		{s.Notes.Shares, "5", "V", 1},
		{s.Notes.Ends, "5", "", 2. / 3},
		{s.Notes.Ends, "5", "V", 1},
		{s.Notes.Blue, "seventh", "below full size", 100},
		{s.Notes.Blue, "seventh", "held", 1.5},
		{s.Notes.Blue, "third", "held", -1},
		{s.Textures.Shares, study.Single, "", 1},
		{s.Time.Lengths, "phrases", "", 2},
		{s.Time.Lengths, "spaces", "", (1.333 + 0.834) / 2},
		{s.Time.Begins, "on the one", "", 1. / 3},
		{s.Time.Begins, "before the one", "", 1. / 3},
		{s.Time.Begins, "beat 1", "", 1. / 3},
		{s.Time.Begins, "beat 2", "", 1. / 3},
		{s.Time.Begins, "beat 4", "", 1. / 3},
		{s.Time.Ends, "on the one", "", 1. / 3},
		{s.Time.Full, "full", "bar 1", 1},
		{s.Time.Full, "full", "bar 2", 1.833 / 4},
		{s.Time.Full, "full", "bar 4", 0},
		{s.Time.InForm, "phrases begin", "bar 2", 2},
		{s.Time.Division, "on the beat", "", 0.5},
		{s.Time.Division, "first triplet", "", 0.25},
		{s.Time.Division, "last triplet", "", 0.25},
		{s.Playing.Often, "vibrato", "", 25},
	} {
		if got := value(c.list, c.name, c.over); math.Abs(got-c.want) > 2e-3 {
			t.Errorf("%s over %q: %g, want %g", c.name, c.over, got, c.want)
		}
	}
	// F, the b7 of G, is no note of C7, the chord on IV; D is one of G7 and of D7.
	if len(s.Time.Cut) != 1 || s.Time.Cut[0].Degree != "b7" || s.Time.Cut[0].Over != "IV" ||
		s.Time.Cut[0].Turnaround {
		t.Errorf("cut short: %+v", s.Time.Cut)
	}
	if b := s.Time.Beat; b == nil || b.Value != 0 {
		t.Errorf("on the beat: %+v", b)
	}
	if len(s.Notes.Shares[0].Places) != 1 || s.Notes.Shares[0].Places[0].At != "1|1" {
		t.Errorf("1 is heard at %v", s.Notes.Shares[0].Places)
	}
}

// A reading counts with its probability, another reading with its own, and the rest is not
// known; of two reeds each has half of the time.
func TestDoubtByHand(t *testing.T) {
	s := handMade(t, "blowdraw tab 1\nharp: C\nsong: G\n"+
		"0:00 1.0 -2 ? 60%, or -3 30%\n0:01 1.0 [-4 -5] ? 50%, or -4 40%\n")
	for name, want := range map[string]float64{"1": 0.3, "3": 0.15, "5": 0.325, "b7": 0.125} {
		if got := value(s.Notes.Shares, name, ""); math.Abs(got-want) > 1e-6 {
			t.Errorf("%s: %g, want %g", name, got, want)
		}
	}
	if got := value(s.Textures.Shares, study.Single, ""); math.Abs(got-0.65) > 1e-6 {
		t.Errorf("single notes: %g", got)
	}
	if math.Abs(s.Summary.Known-0.55) > 1e-6 {
		t.Errorf("sure: %g", s.Summary.Known)
	}
}

// A shaded draw 3 is a blue third by its mark of cents; an unmarked one is none.
func TestBlueByHand(t *testing.T) {
	s := handMade(t, "blowdraw tab 1\nharp: C\nsong: G\n"+
		"0:00 1.0 -3\n0:01 0.5 -3 -35c\n0:02 1.0 -3' +20c\n0:03 1.0 -4' -10c\n")
	for _, c := range []struct {
		name, over string
		want       float64
	}{
		{"third", "below full size", (35. + 80) / 2}, {"third", "held", 0.75}, {"third", "reed bent by", 80},
		{"fifth", "below full size", 110}, {"seventh", "held", -1},
	} {
		if got := value(s.Notes.Blue, c.name, c.over); math.Abs(got-c.want) > 1e-6 {
			t.Errorf("%s, %s: %g, want %g", c.name, c.over, got, c.want)
		}
	}
}
