package score

import (
	"math"
	"testing"

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
	if got := falseEvents(ref, est); math.Abs(got-12) > 1e-9 { // two in ten seconds
		t.Errorf("%.2f false events a minute, want 12", got)
	}
	est.To = 0
	if a, b := playing(ref, est), falseEvents(ref, est); !math.IsNaN(a) || !math.IsNaN(b) {
		t.Errorf("without a section %g and %g, want NaN", a, b)
	}
}
