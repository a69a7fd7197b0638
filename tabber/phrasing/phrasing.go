// Package phrasing measures the phrases of a tab and the space between them.
package phrasing

import (
	"math"

	"blowdraw/onset"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// Phrase is one phrase and the space after it; times and lengths in seconds.
type Phrase struct {
	Start, End      float64
	Space           float64       // until the next phrase, after the last one until the section ends
	Sounding        float64       // how long something sounds within the phrase
	Events          int           // that begin within it
	Lowest, Highest []harp.Action // one action each, by pitch; none if the harp can play none of its events
	Semitones       int           // from lowest to highest
}

// Of measures the phrases of a document, in its order. Without phrases it takes
// what a space of onset.Space seconds parts.
func Of(d tab.Document) []Phrase {
	var out []Phrase
	for _, p := range spans(d) {
		out = append(out, measure(d, p[0], p[1]))
	}
	for i := range out {
		next := d.To
		if i+1 < len(out) {
			next = out[i+1].Start
		}
		out[i].Space = max(0, next-out[i].End)
	}
	return out
}

func spans(d tab.Document) [][2]float64 {
	var out [][2]float64
	for _, p := range d.Phrases {
		out = append(out, [2]float64{p.Start, p.End})
	}
	if len(out) > 0 {
		return out
	}
	for _, e := range d.Events {
		out = append(out, [2]float64{e.Start, e.End})
	}
	return onset.Phrases(out, onset.Space)
}

// Groups are the indices of a document's events by phrase, in order: an event
// belongs to the last phrase that has begun, to the millisecond, as in the written
// document. What comes before the first phrase is a group of its own; none is empty.
func Groups(d tab.Document) [][]int {
	phrases := spans(d)
	var out [][]int
	next := 0
	for i, e := range d.Events {
		begun := i == 0
		for next < len(phrases) && phrases[next][0] <= e.Start+0.0005 {
			next, begun = next+1, true
		}
		if begun {
			out = append(out, nil)
		}
		out[len(out)-1] = append(out[len(out)-1], i)
	}
	return out
}

func measure(d tab.Document, start, end float64) Phrase {
	p := Phrase{Start: start, End: end}
	low, high := math.MaxInt, math.MinInt
	sounded := start
	for _, e := range d.Events {
		if e.Start < start || e.Start >= end {
			continue
		}
		p.Events++
		until := min(e.End, end)
		p.Sounding += max(0, until-max(e.Start, sounded))
		sounded = max(sounded, until)
		for _, a := range e.Actions {
			m := d.Harp.MIDI(a)
			if m < low {
				low, p.Lowest = m, []harp.Action{a}
			}
			if m > high {
				high, p.Highest = m, []harp.Action{a}
			}
		}
	}
	if p.Lowest != nil {
		p.Semitones = high - low
	}
	return p
}
