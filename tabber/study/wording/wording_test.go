package wording

import (
	"strings"
	"testing"

	"blowdraw/tabber/study"
)

// Each unit has its decimals; a share of nothing is nothing in a table and "none" in a
// sentence.
func TestValue(t *testing.T) {
	for _, c := range []struct {
		value       float64
		unit        string
		value1, say string
	}{
		{0.404, study.Share, "40%", "40%"},
		{0.004, study.OfOne, "<1%", "<1%"},
		{0, study.Share, "", "none"},
		{0, study.Count, "0", "0"},
		{3, study.Count, "3", "3"},
		{2.96, study.Count, "3", "3"},
		{2.5, study.Count, "2.5", "2.5"},
		{-12.4, study.Cents, "-12 cents", "-12 cents"},
		{30.6, study.Millis, "31 ms", "31 ms"},
		{4.25, study.Seconds, "4.25 s", "4.25 s"},
		{7.06, study.PerHund, "7.1", "7.1"},
		{5.5, study.Hz, "5.5 Hz", "5.5 Hz"},
	} {
		if got := Value(c.value, c.unit); got != c.value1 {
			t.Errorf("%g %s: %q, want %q", c.value, c.unit, got, c.value1)
		}
		if got := Some(c.value, c.unit); got != c.say {
			t.Errorf("%g %s in a sentence: %q, want %q", c.value, c.unit, got, c.say)
		}
	}
}

// Quartiles of one value say nothing.
func TestQuartiles(t *testing.T) {
	low, high := 0.256, 1.5
	for _, c := range []struct {
		m    study.Measure
		want string
	}{
		{study.Measure{Unit: study.Beats, N: 5, Low: &low, High: &high}, "0.3 to 1.5"},
		{study.Measure{Unit: study.Seconds, N: 5, Low: &low, High: &high}, "0.26 to 1.50"},
		{study.Measure{Unit: study.Millis, N: 5, Low: &low, High: &high}, "0 to 2"},
		{study.Measure{Unit: study.Beats, N: 1, Low: &low, High: &high}, ""},
		{study.Measure{Unit: study.Beats, N: 5}, ""},
	} {
		if got := Quartiles(c.m); got != c.want {
			t.Errorf("%+v: %q, want %q", c.m, got, c.want)
		}
	}
}

// What a study stands on is said as far as it is known: bars that the tabs have, that the tempo
// tells or that are guessed; a short one is not tested.
func TestSummary(t *testing.T) {
	full := study.Summary{
		Solos: 2, Events: 240, Phrases: 1, Seconds: 99.94, Known: 0.905, Bars: 36, Barred: true, Chords: true,
		Form: "twelve-bar", FormBars: 12, Choruses: 3,
	}
	want := "240 notes in 1 phrase, 99.9 s of sound, from 2 solos; " +
		"36 bars, 3.0 times through the twelve-bar form."
	if got := Summary(full)[0]; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	for _, c := range []struct {
		change func(*study.Summary)
		says   string
		other  string // what is said otherwise
	}{
		{func(s *study.Summary) { s.FormBars = 0 }, "; 36 bars.", "twelve-bar"},
		{func(s *study.Summary) { s.Barred = false }, "about 36 bars by the tempo", "times through"},
		{func(s *study.Summary) { s.Guessed = true }, "there being no tempo", "times through"},
		{func(s *study.Summary) { s.Short = true }, "Fewer than 16 bars", "Beyond chance"},
		{func(s *study.Summary) { s.Chords = false }, "The chords are not known", ""},
	} {
		s := full
		c.change(&s)
		got := strings.Join(Summary(s), "\n")
		if !strings.Contains(got, c.says) || c.other != "" && strings.Contains(got, c.other) {
			t.Errorf("%q: want %q and not %q", got, c.says, c.other)
		}
		if before := strings.Join(Summary(full), "\n"); strings.Contains(before, c.says) {
			t.Errorf("%q is said in any case", c.says)
		}
	}
}

// Sentences are empty where there is nothing to say.
func TestSentences(t *testing.T) {
	sure, no, expected, half, early := 0.01, 0.4, 0.1, 6.0, -14.0
	hole := study.Measure{Name: "dip", Over: "hole 4", Value: 0.25, N: 2, P: &sure, Expected: &expected}
	chance := hole
	chance.P = &no
	for _, c := range []struct{ name, got, want string }{
		{"a hole", Hole(hole), "dip on hole 4: twice, 25% of its notes, of all notes 10% (p 0.01)"},
		{"a hole by chance", Hole(chance), ""},
		{"no feel", Feel(study.Time{}), ""},
		{"swing", Feel(study.Time{Feel: "swing", Swing: 1.87}), "Eighths are swung (1.9 to 1)"},
		{"triplets", Feel(study.Time{Feel: "triplet"}), "Beats are divided in three"},
		{"no beat", Late(study.Time{}), ""},
		{
			"early", Late(study.Time{Beat: &study.Measure{Value: early, P: &sure}, BeatHalf: &half}),
			"Notes on the beat begin 14 ms before it, give or take 6 (95%; p 0.01)",
		},
		{"never", Never([]study.Never{{Name: "b2", AtMost: 0.0123}, {Name: "7", AtMost: 0.0123}}),
			"Never touched: b2 7 (with 95%, each less than 1.2% of the notes)"},
		{"nothing never", Never(nil), ""},
		{"a change", Change(study.Measure{Name: "single note to double stop", Unit: study.Count, Value: 1}),
			"From single note to double stop within a phrase: once."},
		{"a share is no change", Change(study.Measure{Unit: study.Share, Value: 1}), ""},
		{"an end", Cut(study.Cut{Degree: "2", Over: "V", InForm: 12, Turnaround: true, Sure: 0.62}),
			"ends on 2 over V in bar 12, in the turnaround (62% sure)"},
	} {
		if c.got != c.want {
			t.Errorf("%s: %q, want %q", c.name, c.got, c.want)
		}
	}
}

// Two players: what is too short to test, what does not differ, and what does.
func TestBeside(t *testing.T) {
	p, no := 0.01, 0.5
	beyond, same := study.Difference{P: &p}, study.Difference{P: &no}
	for _, c := range []struct {
		list []study.Difference
		want string
	}{
		{[]study.Difference{{}}, "too short"},
		{[]study.Difference{same, {}}, "Nothing differs"},
		{[]study.Difference{same, beyond}, "1 measure differs"},
		{[]study.Difference{beyond, same, beyond}, "2 measures differ"},
	} {
		if got := Beside(c.list); !strings.Contains(got, c.want) {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
	notes := study.Parts()[0]
	overChord := study.Difference{Part: notes, Name: "b7", Over: "IV", Unit: study.Share}
	if got := DifferenceName(overChord); got != "degree b7 over IV" || ShownBeside(overChord) {
		t.Errorf("%q, shown: %t, want degree b7 over IV, left out as it does not differ",
			got, ShownBeside(overChord))
	}
	if overChord.P = &p; !ShownBeside(overChord) {
		t.Error("a difference over a chord beyond chance is left out")
	}
}
