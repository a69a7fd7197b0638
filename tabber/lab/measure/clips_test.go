package measure

import (
	"reflect"
	"testing"

	"blowdraw/tabber/tab"
)

// What a section's start cuts counts from there, unless next to nothing is left.
func TestSince(t *testing.T) {
	d := tab.Document{
		Events:  []tab.Event{{Start: 0, End: 1}, {Start: 1.2, End: 2.05}, {Start: 2.1, End: 3}, {Start: 4, End: 5}},
		Phrases: []tab.Phrase{{Start: 0, End: 1}, {Start: 1.2, End: 3}, {Start: 4, End: 5}},
	}
	for _, c := range []struct {
		from    float64
		events  []tab.Event
		phrases []tab.Phrase
	}{
		{1.5, []tab.Event{{Start: 1.5, End: 2.05}, {Start: 2.1, End: 3}, {Start: 4, End: 5}},
			[]tab.Phrase{{Start: 1.5, End: 3}, {Start: 4, End: 5}}},
		{2, []tab.Event{{Start: 2.1, End: 3}, {Start: 4, End: 5}},
			[]tab.Phrase{{Start: 2.1, End: 3}, {Start: 4, End: 5}}},
		{3.5, []tab.Event{{Start: 4, End: 5}}, []tab.Phrase{{Start: 4, End: 5}}},
		{5, nil, nil},
	} {
		section := d
		section.Events = append([]tab.Event(nil), d.Events...)
		section.Phrases = append([]tab.Phrase(nil), d.Phrases...)
		got := since(section, c.from)
		if len(got.Events) != len(c.events) || len(got.Phrases) != len(c.phrases) ||
			len(c.events) > 0 && !(reflect.DeepEqual(got.Events, c.events) &&
				reflect.DeepEqual(got.Phrases, c.phrases)) {
			t.Errorf("from %g: %+v, %+v, want %+v, %+v", c.from, got.Events, got.Phrases, c.events, c.phrases)
		}
	}
}
