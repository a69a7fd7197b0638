package score

import (
	"fmt"
	"math"
	"slices"

	"blowdraw/tabber/compare"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/lab/truth"
	"blowdraw/tabber/tab"
)

// Tolerances in seconds of [Agree]: how far a start may be off to be right, and to be
// compared; how much of an event's ends is left out where its time is looked at, in what
// steps; and how far from an annotated event something written is nowhere.
const (
	startTolerance = 0.1
	startReach     = 0.2
	edge           = 0.04
	timeStep       = 0.01
	beside         = 0.1
)

// Agreement is what a transcription has right of a recording that people annotated, as
// counts, which add up over recordings. An annotated event counts as agreed unless it is
// marked as not sure.
type Agreement struct {
	Events, Agreed           int // annotated
	EventsFound, AgreedFound int // written with the same action and start
	Written                  int // but for stretches that nobody could make out

	Steps                    int // of 10 ms inside agreed events
	StepsRight, PitchesRight int // in which just that is written; at least its pitches

	Extra   int     // written where nothing is annotated
	Minutes float64 // up to the last annotated event's end

	Sure                  int // written with confidence 0.9 or more,
	SureJudged, SureRight int // of these in the middle of an agreed event, and right

	Verdicts     []Verdict // of all that is written in the middle of an agreed event
	Starts, Ends []float64 // seconds by which those of agreed events are written late
}

// Agree compares what was transcribed with what people annotated.
func Agree(ref truth.File, est []tab.Event) (Agreement, error) {
	d, err := ref.Document()
	if err != nil {
		return Agreement{}, fmt.Errorf("reading what was annotated: %w", err)
	}
	est = slices.DeleteFunc(slices.Clone(est), func(e tab.Event) bool {
		return slices.ContainsFunc(ref.Unheard,
			func(u [2]float64) bool { return u[0] <= middle(e) && middle(e) <= u[1] })
	})
	a := Agreement{Events: len(d.Events), Written: len(est), Minutes: 1.0 / 60}
	var agreed []tab.Event
	used := map[int]bool{}
	for i, e := range d.Events {
		a.Minutes = max(a.Minutes, e.End/60)
		j := nearest(e, est, startTolerance, func(j int) bool { return !used[j] && sameTab(d, e, est[j]) })
		if j >= 0 {
			used[j] = true
			a.EventsFound++
		}
		if ref.Events[i].Agreed() {
			agreed = append(agreed, e)
			if j >= 0 {
				a.AgreedFound++
			}
		}
	}
	a.Agreed = len(agreed)
	a.countTime(d, agreed, est)
	a.countWritten(d, agreed, est)
	for _, e := range agreed {
		if j := nearest(e, est, startReach, func(j int) bool { return sameTab(d, e, est[j]) }); j >= 0 {
			a.Starts = append(a.Starts, est[j].Start-e.Start)
			a.Ends = append(a.Ends, est[j].End-e.End)
		}
	}
	return a, nil
}

func middle(e tab.Event) float64 { return (e.Start + e.End) / 2 }

func sameTab(d tab.Document, a, b tab.Event) bool {
	return compare.SameTab(d.Harp, a.Actions, b.Actions)
}

// nearest is the written event that begins nearest to e, within reach, of those that will
// do; -1 if there is none.
func nearest(e tab.Event, est []tab.Event, reach float64, will func(j int) bool) int {
	best := -1
	for j := range est {
		late := math.Abs(est[j].Start - e.Start)
		if late <= reach && will(j) && (best < 0 || late < math.Abs(est[best].Start-e.Start)) {
			best = j
		}
	}
	return best
}

// countTime counts the steps inside agreed events.
func (a *Agreement) countTime(d tab.Document, agreed, est []tab.Event) {
	for _, e := range agreed {
		for t := e.Start + edge; t < e.End-edge; t += timeStep {
			a.Steps++
			j := slices.IndexFunc(est, func(x tab.Event) bool { return x.Start <= t && t < x.End })
			if j < 0 {
				continue
			}
			if sameTab(d, e, est[j]) {
				a.StepsRight++
			}
			if slices.Equal(notes(d.Harp, e), notes(d.Harp, est[j])) {
				a.PitchesRight++
			}
		}
	}
}

// notes are the MIDI numbers of an event's actions, ascending.
func notes(h harp.Harp, e tab.Event) []int {
	var out []int
	for _, a := range e.Actions {
		out = append(out, h.MIDI(a))
	}
	slices.Sort(out)
	return out
}

// countWritten judges what is written.
func (a *Agreement) countWritten(d tab.Document, agreed, est []tab.Event) {
	for _, x := range est {
		near := func(e tab.Event) bool { return e.Start-beside < x.End && x.Start < e.End+beside }
		if !slices.ContainsFunc(d.Events, near) {
			a.Extra++
		}
		if x.Confidence >= sure {
			a.Sure++
		}
		i := slices.IndexFunc(agreed, func(e tab.Event) bool { return e.Start <= middle(x) && middle(x) < e.End })
		if i < 0 {
			continue
		}
		right := sameTab(d, agreed[i], x) && math.Abs(agreed[i].Start-x.Start) <= startTolerance
		a.Verdicts = append(a.Verdicts, Verdict{x.Confidence, right})
		if x.Confidence >= sure {
			a.SureJudged++
			if right {
				a.SureRight++
			}
		}
	}
}

// Sum adds up agreements.
func Sum(all []Agreement) Agreement {
	var s Agreement
	for _, a := range all {
		s.Events, s.Agreed = s.Events+a.Events, s.Agreed+a.Agreed
		s.EventsFound, s.AgreedFound = s.EventsFound+a.EventsFound, s.AgreedFound+a.AgreedFound
		s.Written, s.Steps = s.Written+a.Written, s.Steps+a.Steps
		s.StepsRight, s.PitchesRight = s.StepsRight+a.StepsRight, s.PitchesRight+a.PitchesRight
		s.Extra, s.Minutes = s.Extra+a.Extra, s.Minutes+a.Minutes
		s.Sure, s.SureJudged, s.SureRight = s.Sure+a.Sure, s.SureJudged+a.SureJudged, s.SureRight+a.SureRight
		s.Verdicts = append(s.Verdicts, a.Verdicts...)
		s.Starts, s.Ends = append(s.Starts, a.Starts...), append(s.Ends, a.Ends...)
	}
	return s
}

// Figure is a measure of agreement: N by Of, and none where Of is 0.
type Figure struct{ N, Of float64 }

// Value is the figure, if there is one.
func (f Figure) Value() (v float64, ok bool) {
	if f.Of == 0 {
		return 0, false
	}
	return f.N / f.Of, true
}

func figure(n, of int) Figure { return Figure{float64(n), float64(of)} }

// Right is the share of the agreed events that are written.
func (a Agreement) Right() Figure { return figure(a.AgreedFound, a.Agreed) }

// F is that of all annotated events.
func (a Agreement) F() Figure { return figure(2*a.EventsFound, a.Events+a.Written) }

// TimeRight is the share of the agreed events' time in which just that is written.
func (a Agreement) TimeRight() Figure { return figure(a.StepsRight, a.Steps) }

// TimePitch is the share of the agreed events' time in which their pitches are written.
func (a Agreement) TimePitch() Figure { return figure(a.PitchesRight, a.Steps) }

// ExtraAMinute is how many events are written where nothing is annotated, a minute.
func (a Agreement) ExtraAMinute() Figure { return Figure{float64(a.Extra), a.Minutes} }

// SureIsRight is the share that is right of what is written with confidence 0.9 or more
// in the middle of an agreed event.
func (a Agreement) SureIsRight() Figure { return figure(a.SureRight, a.SureJudged) }

// SureShare is the share of what is written that has confidence 0.9 or more.
func (a Agreement) SureShare() Figure { return figure(a.Sure, a.Written) }

// CalibrationError is [CalibrationError] of what is written in the middle of agreed events.
func (a Agreement) CalibrationError() Figure {
	if len(a.Verdicts) == 0 {
		return Figure{}
	}
	return Figure{CalibrationError(a.Verdicts), 1}
}
