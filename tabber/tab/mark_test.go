package tab

import (
	"bytes"
	"reflect"
	"strings"
	"testing"
)

// Marks by a player's hand: in any order and case, without a length, with the
// typographic minus; what is no mark is told so.
func TestParseMarks(t *testing.T) {
	const head = "blowdraw tab 1\nharp: C\nsong: G\n    time  length  tab  degree\n"
	for _, c := range []struct {
		line string
		want []Mark
	}{
		{"0:01 0.5 -4  5 vibrato slap", []Mark{{Name: Slap}, {Name: Vibrato}}},
		{"0:01 0.5 -4 Hand-Vibrato ? 60%", []Mark{{Name: HandVibrato}}},
		{"0:01 4 scoop", []Mark{{Name: Scoop}}},
		{"-3' b3 −20c +5c # shallow", []Mark{{Name: OffPitch, Cents: -20}, {Name: OffPitch, Cents: 5}}},
		{"0:01 0.5 [-4 -5] 5 b7 −11dB vibrato", []Mark{{Name: Vibrato}, {Name: Bleed, DB: -11}}},
		{"0:01 0.5 [-4 -5] 5 shake b7", []Mark{{Name: Shake}}},
	} {
		d, err := Parse(strings.NewReader(head + c.line + "\n\nMarks\nwah  " + MarkWords()[4].Meaning + "\n"))
		if err != nil {
			t.Errorf("%s: %v", c.line, err)
			continue
		}
		if got := d.Events[0].Marks; !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: %v, want %v", c.line, got, c.want)
		}
		if len(d.Events) != 1 || len(d.Remarks) != 0 {
			t.Errorf("%s: the legend left %d events and %d remarks", c.line, len(d.Events), len(d.Remarks))
		}
	}
	for _, line := range []string{"0:01 0.5 -4 wobble", "0:01 0.5 -4 cents", "0:01 0.5 -4 +1000c"} {
		if _, err := Parse(strings.NewReader(head + line + "\n")); err == nil ||
			!strings.Contains(err.Error(), "nor a mark") {
			t.Errorf("%s: %v", line, err)
		}
	}
}

// Every mark comes back from the text, and an unknown one is not written.
func TestMarksRoundTrip(t *testing.T) {
	d := example(t)
	for i, w := range MarkWords() {
		m := Mark{Name: w.Name}
		if w.Name == OffPitch {
			m.Cents = -120
		}
		if w.Name == Bleed {
			m.DB = -11
		}
		d.Events[i%len(d.Events)].Marks = append(d.Events[i%len(d.Events)].Marks[:0:0], m)
		var text bytes.Buffer
		if err := WriteText(&text, d); err != nil {
			t.Fatal(err)
		}
		back, err := Parse(&text)
		if err != nil {
			t.Fatal(err)
		}
		if got := back.Events[i%len(d.Events)].Marks; !reflect.DeepEqual(got, []Mark{m}) {
			t.Errorf("%s came back as %v", m, got)
		}
	}
	d.Events[0].Marks = []Mark{{Name: "wobble"}}
	if err := WriteText(&bytes.Buffer{}, d); err == nil {
		t.Error("an unknown mark was written")
	}
}

func TestMarksShown(t *testing.T) {
	for which, want := range map[string][]Mark{
		"none": nil, "main": {{Name: Scoop}}, "all": {{Name: Scoop}, {Name: Accent, DB: 6}},
	} {
		events := []Event{{Marks: []Mark{{Name: Scoop}, {Name: Accent, DB: 6}}}}
		if err := MarksShown(events, which); err != nil || !reflect.DeepEqual(events[0].Marks, want) {
			t.Errorf("%s: %v, %v; want %v", which, events[0].Marks, err, want)
		}
	}
	if MarksShown(nil, "some") == nil {
		t.Error("\"some\" was taken")
	}
}
