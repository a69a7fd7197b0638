package score

import (
	"math"
	"testing"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

func event(start, end, confidence float64, pitch float64, a ...harp.Action) tab.Event {
	e := tab.Event{Start: start, End: end, Confidence: confidence, Actions: a, Texture: tab.Texture(a)}
	for i := range a {
		e.Pitches = append(e.Pitches, pitch+12*float64(i))
	}
	return e
}

// A transcription with one mistake of each kind, and the scores worked out by
// hand from the definitions in Measures.
func TestCompare(t *testing.T) {
	h, err := harp.Parse("C", harp.Layouts()[0])
	if err != nil {
		t.Fatal(err)
	}
	d4, d5, d2, b3 := harp.Action{Breath: harp.Draw, Hole: 4}, harp.Action{Breath: harp.Draw, Hole: 5},
		harp.Action{Breath: harp.Draw, Hole: 2}, harp.Action{Breath: harp.Blow, Hole: 3}
	d1, d3b := harp.Action{Breath: harp.Draw, Hole: 1}, harp.Action{Breath: harp.Draw, Hole: 3, Bend: 1}
	ref := tab.Document{
		Harp: h, BPM: 100, TuningCents: -10,
		Phrases: []tab.Phrase{{Start: 1, End: 3}, {Start: 5, End: 8}},
		Events: []tab.Event{
			event(1, 2, 1, 74, d4),
			event(2, 3, 1, 67, d2),
			event(5, 6, 1, 62, d1, d4),
			event(6, 7, 1, 70, d3b),
		},
	}
	est := tab.Document{
		Harp: h, BPM: 103, TuningCents: -7.5,
		Phrases: []tab.Phrase{{Start: 1.1, End: 3.3}, {Start: 5, End: 8}, {Start: 9, End: 10}},
		Events: []tab.Event{
			event(1.04, 2.1, 0.95, 74.3, d4),    // right
			event(2.05, 2.5, 0.9, 67, b3),       // the twin of draw 2, ends early
			event(5, 6, 0.92, 62, d1),           // half of the split
			event(6.06, 7, 0.5, 70, d3b),        // late
			event(7.5, 8, 0.89, 74, d4, d5),     // not there
			{Start: 7.6, End: 8, Confidence: 1}, // nothing
		},
	}
	m := Compare(ref, est, 0.05)
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"NoteF", m.NoteF, 2 * 3. / (5 + 6)}, // of 5 true and 6 written notes, 3 match
		{"OffsetF", m.OffsetF, 2 * 2. / (5 + 6)},
		{"TabF", m.TabF, 2 * 2. / (4 + 6)},
		{"TextureF", m.TextureF, 0},
		{"Splits", m.Splits, 0},
		{"PhraseF", m.PhraseF, 2 * 3. / (4 + 6)},
		{"Tempo", m.Tempo, 1},
		{"Tuning", m.Tuning, 2.5},
		{"SureRight", m.SureRight, 2. / 4},
		{"SureShare", m.SureShare, 4. / 6},
	} {
		if math.Abs(c.got-c.want) > 1e-12 {
			t.Errorf("%s = %g, want %g", c.name, c.got, c.want)
		}
	}
	if m := Compare(ref, est, 0.1); math.Abs(m.TabF-2*3./10) > 1e-12 {
		t.Errorf("TabF at 0.1 s = %g, want 0.6", m.TabF)
	}
	self := Compare(ref, ref, 0.05)
	for _, v := range []float64{self.NoteF, self.OffsetF, self.TabF, self.TextureF, self.Splits, self.PhraseF,
		self.Tempo, self.SureRight, self.SureShare} {
		if v != 1 {
			t.Errorf("truth against itself: %+v", self)
			break
		}
	}
	none := Compare(tab.Document{Harp: h}, tab.Document{Harp: h}, 0.05)
	for _, v := range []float64{none.NoteF, none.OffsetF, none.TabF, none.TextureF, none.Splits, none.PhraseF,
		none.Tempo, none.SureRight, none.SureShare} {
		if !math.IsNaN(v) {
			t.Errorf("nothing against nothing: %+v", none)
			break
		}
	}
}
