package phrasing

import (
	"reflect"
	"strings"
	"testing"

	"blowdraw/tabber/tab"
)

// tabbed is a document of one event every half second; | is a space of a second.
func tabbed(t testing.TB, tokens string) tab.Document {
	t.Helper()
	d, err := tab.Parse(strings.NewReader("blowdraw tab 1\nharp: A\nsong: E\n"))
	if err != nil {
		t.Fatal(err)
	}
	at := 0.0
	for _, w := range strings.Fields(tokens) {
		if w == "|" {
			at++
			continue
		}
		a, err := tab.ParseToken(d.Harp, w)
		if err != nil {
			t.Fatal(err)
		}
		d.Events = append(d.Events, tab.Event{Start: at, End: at + 0.5, Actions: a, Confidence: 1})
		at += 0.5
	}
	return d
}

func TestRecurring(t *testing.T) {
	for _, c := range []struct {
		name, tokens string
		want         []Motif // chance left out
	}{
		{"twice the same", "-2 -3' -4 -5 | 4 -1 | -2 -3' -4 -5",
			[]Motif{{[][2]int{{0, 4}, {6, 10}}, true, 0}}},
		{"three times", "-2 -3' -4 -5 | -2 -3' -4 -5 | 2 | -2 -3' -4 -5",
			[]Motif{{[][2]int{{0, 4}, {4, 8}, {9, 13}}, true, 0}}},
		{"an ornament between", "-2 -3' -4 5 -4 6 | -2 -3' -4 -5 5 -4 6",
			[]Motif{{[][2]int{{0, 6}, {6, 13}}, false, 0}}},
		{"an octave higher", "-1 -2 2 -3' | 1 | -4 6 5 -6' ", nil}, // 5 1 6 b3, then 5 1 2: too short
		{"degrees an octave up", "-2 -3 4 -4 -5 -4 -3 -2 | 1 2 1 | 6 -7 7 -8 -9 -8 -7 6",
			[]Motif{{[][2]int{{0, 8}, {11, 19}}, false, 0}}},
		{"only three", "-2 -3' -4 | -2 -3' -4", nil},
		{"a repeated note", "-4 -4 -4 -4 -4 -4 -4 -4 | -4 -4 -4 -4", nil},
		{"not across a space", "-2 -3' | -4 -5 | -2 -3' -4 -5", nil},
		{"nothing", "", nil},
	} {
		got := Recurring(tabbed(t, c.tokens))
		for i := range got {
			if p := got[i].Chance; p <= 0 || p > 0.05 {
				t.Errorf("%s: %g by chance", c.name, p)
			}
			got[i].Chance = 0
		}
		if !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}
