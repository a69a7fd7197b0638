package review

import (
	"reflect"
	"testing"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/harp/harptest"
	"blowdraw/tabber/tab"
)

// written is an event of half a second.
func written(t *testing.T, h harp.Harp, start float64, token string) tab.Event {
	t.Helper()
	a, err := tab.ParseToken(h, token)
	if err != nil {
		t.Fatal(err)
	}
	return tab.Event{Start: start, End: start + 0.5, Actions: a}
}

func TestReplace(t *testing.T) {
	h := harptest.Of(t, "C", "richter")
	at := func(start float64, token, comment string, confidence float64) tab.Event {
		e := written(t, h, start, token)
		e.Comment, e.Confidence = comment, confidence
		return e
	}
	d := tab.Document{Harp: h, Phrases: []tab.Phrase{{Start: 1, End: 4.5}},
		Events: []tab.Event{at(1, "4", "a", 0.5), at(2, "-4", "b", 1), at(3, "5", "c", 0.5), at(4, "6", "", 1)},
		Remarks: []tab.Remark{
			{Before: -1, Text: "top"},
			{Before: 0, Text: "first"},
			{Before: 2, Text: "third"},
			{Before: 4, Text: "end"},
		},
	}
	got := Replace(
		d,
		[]Decision{{at(0.95, "-3", "", 0.9), 0}, {d.Events[1], 1}, {at(2.6, "7", "", 0.9), -1}, {d.Events[3], 3}},
	)
	comments := ""
	for _, e := range got.Events {
		comments += e.Comment + ";"
	}
	if want := []tab.Remark{{Before: -1, Text: "top"}, {Before: 0, Text: "first"}, {Before: 3, Text: "c"}, {Before: 3, Text: "third"}, {Before: 4, Text: "end"}}; comments != "a;b;;;" ||
		!reflect.DeepEqual(got.Remarks, want) ||
		got.Phrases[0].Start != 0.95 ||
		d.Phrases[0].Start != 1 {
		t.Errorf("%q, %v, %v", comments, got.Remarks, got.Phrases)
	}
}
