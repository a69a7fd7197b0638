package score_test

import (
	"fmt"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/lab/score"
	"blowdraw/tabber/lab/truth"
	"blowdraw/tabber/tab"
)

// Two notes were played; the first is written 30 ms late, the second a hole too high.
func ExampleCompare() {
	ref := truth.File{
		Harp: "C", Layout: "richter",
		Events: []truth.Event{
			{Start: 1, End: 1.5, Breath: "draw", Holes: []int{4}, Bends: []float64{0}, MIDI: []float64{74}},
			{Start: 1.5, End: 2, Breath: "blow", Holes: []int{4}, Bends: []float64{0}, MIDI: []float64{72}},
		},
	}
	played, err := ref.Document()
	if err != nil {
		fmt.Println(err)
		return
	}
	written := tab.Document{Harp: played.Harp, Events: []tab.Event{
		{Start: 1.03, End: 1.5, Pitches: []float64{74}, Actions: []harp.Action{{Breath: harp.Draw, Hole: 4}}},
		{Start: 1.5, End: 2, Pitches: []float64{76}, Actions: []harp.Action{{Breath: harp.Blow, Hole: 5}}},
	}}
	m := score.Compare(played, written, 0.05)
	fmt.Printf("notes %.2f, tab %.2f\n", m.NoteF, m.TabF)
	// Output: notes 0.50, tab 0.50
}

// Of two events that people annotated they agree on the first only.
func ExampleAgree() {
	unsure := false
	ref := truth.File{
		Harp: "A", Layout: "richter",
		Events: []truth.Event{
			{Start: 0.2, End: 0.8, Breath: "draw", Holes: []int{2}, Bends: []float64{0}},
			{Start: 1, End: 1.2, Breath: "draw", Holes: []int{3}, Bends: []float64{1}, Sure: &unsure},
		},
	}
	written := []tab.Event{{Start: 0.25, End: 0.8, Confidence: 0.97,
		Actions: []harp.Action{{Breath: harp.Draw, Hole: 2}}}}
	a, err := score.Agree(ref, written)
	if err != nil {
		fmt.Println(err)
		return
	}
	right, _ := a.Right().Value()
	f, _ := a.F().Value()
	fmt.Printf("right of what is agreed on %.2f, F of all %.2f\n", right, f)
	// Output: right of what is agreed on 1.00, F of all 0.67
}

// Of what is said to be right nine times in ten, half is.
func ExampleCalibrationError() {
	said := []score.Verdict{{Said: 0.9, Right: true}, {Said: 0.9, Right: false}}
	fmt.Printf("%.2f\n", score.CalibrationError(said))
	// Output: 0.40
}
