package score

import (
	"math"
	"testing"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

func TestPlaying(t *testing.T) {
	ref := tab.Document{
		Phrases: []tab.Phrase{{Start: 2, End: 4}, {Start: 6, End: 8}},
		Events:  []tab.Event{{Start: 2, End: 4}, {Start: 6, End: 8}},
	}
	est := tab.Document{
		From: 0, To: 10, Phrases: []tab.Phrase{{Start: 1, End: 4}, {Start: 9, End: 11}},
		Events: []tab.Event{
			{Start: 1, End: 1.9, Confidence: 0.6}, {Start: 1.9, End: 4, Confidence: 0.9},
			{Start: 9, End: 9.2, Confidence: 0.4}, {Start: 9.2, End: 11, Confidence: 0.51},
		},
	}
	if got := playing(ref, est); math.Abs(got-0.6) > 1e-9 { // wrong from 1 to 2, 6 to 8 and 9 to 10
		t.Errorf("agree over %.3f of the time, want 0.6", got)
	}
	est.To = 0
	if a := playing(ref, est); !math.IsNaN(a) {
		t.Errorf("without a section %g, want NaN", a)
	}
}

// Two phrases, of which one is told in overlapping parts, leave 12 of 20 s, less 0.3 s at
// each of three sides: 11.1 s. Three events lie there, one of them without doubt.
func TestExtra(t *testing.T) {
	blow4 := []harp.Action{{Hole: 4}}
	ref := tab.Document{Phrases: []tab.Phrase{{Start: 0, End: 2}, {Start: 8, End: 14}, {Start: 9, End: 10}}}
	est := tab.Document{From: 0, To: 20, Events: []tab.Event{
		{Start: 0, End: 1.9, Confidence: 0.99, Actions: blow4},
		{Start: 1.9, End: 2.6, Confidence: 0.99, Actions: blow4}, // its middle is within 0.3 s
		{Start: 4, End: 5, Confidence: 0.99, Actions: blow4},
		{Start: 5, End: 7, Confidence: 0.2, Actions: blow4},
		{Start: 7.8, End: 13, Confidence: 0.99, Actions: blow4},
		{Start: 19, End: 20, Confidence: 0.7, Actions: blow4},
	}}
	all, undoubted := extra(ref, est)
	if math.Abs(all-3*60/11.1) > 1e-9 || math.Abs(undoubted-60/11.1) > 1e-9 {
		t.Errorf("%.3f events a minute, %.3f of them undoubted, want %.3f and %.3f", all, undoubted, 3*60/11.1, 60/11.1)
	}
	ref.Phrases = nil // nothing is played
	if all, _ := extra(ref, est); math.Abs(all-6*3) > 1e-9 {
		t.Errorf("%.3f events a minute where nothing is played, want 18", all)
	}
	ref.Phrases = []tab.Phrase{{Start: 0, End: 15}}
	if all, undoubted := extra(ref, est); !math.IsNaN(all) || !math.IsNaN(undoubted) {
		t.Errorf("%.3f and %.3f of 4.7 s, want NaN", all, undoubted)
	}
}
