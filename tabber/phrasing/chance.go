package phrasing

import (
	"fmt"
	"math"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// How a phrase that comes back is played (common practice, no source; not fitted).
const (
	altered    = 0.06 // chance that an event becomes another one
	added      = 0.03 // chance of an event put in or left out, each
	sameOctave = 0.85 // chance that it comes back in the same octave
	sameRhythm = 0.6  // chance that it comes back in its rhythm
	inTime     = 0.9  // of the events of such a phrase, how many keep their time
	timeSpread = 0.12 // standard deviation of the logarithm of their times
	fromStart  = 0.5  // chance that both are the beginnings of phrases
	toEnd      = 0.5  // chance that both are the ends
)

var logAltered, logAdded = math.Log(altered), math.Log(added)

// How often what is none looks like one: of pairs of stretches of n events
// chanceK n²/2 exp(-decay score) reach a score (Karlin & Altschul 1990, from memory).
// For notes as independent as the model has them decay would be 1; players, random ones
// too, are more like themselves than that. Both, and groups, were chosen on random
// solos of 15 to 480 s (clips.Solos, seeds 1 and 11 to 13) so that at every length at most
// one solo in twenty has a motif by chance, in all kinds but fast runs of many minutes.
const (
	chanceK = 0.1
	decay   = 0.75
	groups  = 5.0 // by which more than two are likelier by chance than if they were independent
)

// likeness weighs how much likelier it is that event j repeats event i than that they are
// alike by chance, in log odds (natural logarithm).
type likeness struct {
	symbols      []int                     // what each event is
	rare         []float64                 // log odds of each event if it is repeated
	starts, ends []bool                    // whether an event begins or ends a phrase
	start, end   [2]float64                // log odds of two that are not both such, and of two that are
	gaps         []float64                 // log of the seconds since the event before; NaN at a start
	timing       func(log float64) float64 // density of gaps; nil if rhythm does not count
	prior        float64                   // log chance of such a repetition
}

const noNote = -1

// symbolOf an event: its notes, or their degrees, as one word, and the lowest.
func symbolOf(d tab.Document, i int, octaves bool) (word string, lowest int) {
	low := math.MaxInt
	for _, a := range d.Events[i].Actions {
		midi := d.Harp.MIDI(a)
		note := midi
		if !octaves {
			note = harp.PitchClass(midi - d.SongKey)
		}
		word += fmt.Sprint(note, " ")
		if midi < low {
			low, lowest = midi, note
		}
	}
	if word == "" {
		return fmt.Sprint("event ", i), noNote // like no other
	}
	return word, lowest
}

// newLikeness counts what a document's events are like: how often each is played, and
// after how wide a step. Both are taken for the chance of an event in equal parts. With
// octaves notes are alike in the same octave only, with rhythm in the same rhythm more.
func newLikeness(d tab.Document, phrase []int, octaves, rhythm bool) likeness {
	n := len(d.Events)
	l := likeness{
		symbols: make([]int, n), rare: make([]float64, n),
		starts: make([]bool, n), ends: make([]bool, n), gaps: make([]float64, n),
	}
	l.countNotes(d, phrase, octaves)
	l.countPlaces(d, phrase)
	l.prior = math.Log(either(sameOctave, octaves)) + math.Log(either(sameRhythm, rhythm))
	if rhythm {
		l.timing = density(l.gaps)
	}
	return l
}

// countNotes says what each event is and how rare.
func (l *likeness) countNotes(d tab.Document, phrase []int, octaves bool) {
	numbers := map[string]int{}
	lows := make([]int, len(d.Events)) // lowest notes
	played, lowest, steps := newCounts(), newCounts(), newCounts()
	step := func(i int) (int, bool) {
		if i == 0 || phrase[i] != phrase[i-1] || lows[i] == noNote || lows[i-1] == noNote {
			return 0, false
		}
		if octaves {
			return lows[i] - lows[i-1], true
		}
		return (lows[i] - lows[i-1] + 12) % 12, true
	}
	for i := range d.Events {
		word, low := symbolOf(d, i, octaves)
		if _, ok := numbers[word]; !ok {
			numbers[word] = len(numbers)
		}
		l.symbols[i], lows[i] = numbers[word], low
		played.add(l.symbols[i])
		lowest.add(low)
		if s, ok := step(i); ok {
			steps.add(s)
		}
	}
	for i := range d.Events {
		p := played.share(l.symbols[i])
		if s, ok := step(i); ok {
			p = (p + steps.share(s)*min(1, p/lowest.share(lows[i]))) / 2
		}
		l.rare[i] = math.Log((1 - altered - 2*added) / p)
	}
}

// countPlaces says where phrases begin and end, how much likelier it is then that both
// stretches do, and how long after the one before each event begins.
func (l *likeness) countPlaces(d tab.Document, phrase []int) {
	var firsts, lasts, late float64
	since := 0 // events of the phrase so far
	for i := range d.Events {
		l.starts[i] = i == 0 || phrase[i] != phrase[i-1]
		l.ends[i] = i+1 == len(phrase) || phrase[i+1] != phrase[i]
		l.gaps[i] = math.NaN()
		if l.starts[i] {
			firsts++
			since = 0
		} else if gap := d.Events[i].Start - d.Events[i-1].Start; gap > 0 {
			l.gaps[i] = math.Log(gap)
		}
		if since++; since >= leastAlike {
			late++
			if l.ends[i] {
				lasts++
			}
		}
	}
	l.start = placed(fromStart, firsts/float64(max(len(phrase), 1)))
	l.end = placed(toEnd, (lasts+0.5)/(late+1))
}

// placed are the log odds of two events that are not both in a place where that share of
// events is, and of two that are, if a repetition puts both there with a chance.
func placed(chance, share float64) [2]float64 {
	return [2]float64{math.Log(1 - chance), math.Log(chance/(share*share) + 1 - chance)}
}

func either(p float64, yes bool) float64 {
	if yes {
		return p
	}
	return 1 - p
}

// counts of how often something was, with half a time of each for what was not seen.
type counts struct {
	of  map[int]int
	all int
}

func newCounts() *counts { return &counts{of: map[int]int{}} }

func (c *counts) add(k int) { c.of[k]++; c.all++ }

func (c *counts) share(k int) float64 {
	return (float64(c.of[k]) + 0.5) / (float64(c.all) + 0.5*float64(len(c.of)+1))
}

// density of the values by a Gaussian kernel, looked up every 0.05 between -5 and 4.
func density(values []float64) func(v float64) float64 {
	const low, every, places, width = -5.0, 0.05, 180, 0.15
	table := make([]float64, places)
	n := 0.0
	for _, v := range values {
		if math.IsNaN(v) {
			continue
		}
		n++
		for k := range table {
			table[k] += normal(low+float64(k)*every-v, width)
		}
	}
	for k := range table {
		table[k] = (table[k] + 1/(places*every)) / (n + 1)
	}
	return func(v float64) float64 {
		return table[min(max(int(math.Round((v-low)/every)), 0), places-1)]
	}
}

func normal(x, deviation float64) float64 {
	x /= deviation
	return math.Exp(-x*x/2) / (deviation * math.Sqrt(2*math.Pi))
}

// repeated is the log odds of event j as a repetition of event i; timed if the events
// before both are alike too.
func (l *likeness) repeated(i, j int, timed bool) float64 {
	odds := logAltered
	if l.symbols[i] == l.symbols[j] {
		odds = l.rare[j]
	}
	if timed && l.timing != nil && !math.IsNaN(l.gaps[i]) && !math.IsNaN(l.gaps[j]) {
		odds += math.Log(inTime*normal(l.gaps[j]-l.gaps[i], timeSpread)/l.timing(l.gaps[j]) + 1 - inTime)
	}
	return odds
}

// begin is the log odds of a repetition that begins with two events.
func (l *likeness) begin(i, j int) float64 {
	return l.prior + l.start[both(l.starts[i], l.starts[j])] + l.repeated(i, j, false)
}

func both(a, b bool) int {
	if a && b {
		return 1
	}
	return 0
}
