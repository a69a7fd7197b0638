// Package presence tells where in a recording a harp plays, where probably a
// voice, and where neither.
//
// The recording is looked at in blocks of a quarter of a second with half a
// second on either side. What counts is what the events there are like
// (traits.go) - how sure the ear was of reeds, breath and number, how they stand
// out, how their pitch and partials move - and what the block is like as a whole
// (cues.go): how sure the ear is that any reed sounds, and what tells speech and
// song from instruments in the classical way, the pulsing of the level, the glide
// of the strongest partials and the wandering of the spectral centroid (Scheirer
// & Slaney 1997, "Construction and evaluation of a robust multifeature
// speech/music discriminator", ICASSP). Two logistic models (model.go) tell harp
// from the rest and voice from what is left; the likeliest sequence over the
// blocks (Viterbi 1967) is the answer.
package presence

import (
	"math"
	"slices"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// Kind is who plays.
type Kind int

// Harp, a voice that sings or speaks, or anything else: a band, silence.
const (
	Harp Kind = iota
	Voice
	Other
	none
)

// Stretch is a part of a recording, in seconds from its start.
type Stretch struct {
	Kind       Kind
	Start, End float64
}

// Track gathers what is needed of a section, heard window by window.
type Track struct {
	start  float64
	frames []sketch
	traits map[float64]traits // of events by their start
}

// Add takes what is new in a window, whose frames coincide with those of the
// windows before, and the events that were heard in it. An ear that tells no
// breath leaves no trace.
func (t *Track) Add(h harp.Harp, f pitch.Frames, c decode.Clip, events []tab.Event) {
	if f.Breath == nil {
		return
	}
	t.sketch(f, c)
	if t.traits == nil {
		t.traits = map[float64]traits{}
	}
	for _, e := range events {
		rows := rowsOf(h, f.Axis, e)
		from := int(math.Round((e.Start - f.Start) / pitch.HopSeconds))
		to := min(int(math.Round((e.End-f.Start)/pitch.HopSeconds)), f.N)
		if from < to && len(rows) > 0 {
			t.traits[e.Start] = traitsOf(f, c, e, rows, from, to)
		}
	}
}

// Block is what the models see of a block.
type Block struct {
	Time   float64 // of its middle, in seconds from the start of the recording
	Filled float64 // share of it that events fill
	Cues   []float64
}

// Blocks are all blocks of what was added, given the events heard in it.
func (t *Track) Blocks(events []tab.Event) []Block {
	var out []Block
	for i, x := range t.cues(events) {
		out = append(out, Block{t.start + (float64(i)+0.5)*blockSeconds, x[filled], slices.Clone(x[:])})
	}
	return out
}

// Stretches tells who plays where in all that was added, nil if nothing was. The
// harp plays where events are that are its own, and in the space between two of
// them if that is less than space seconds.
func (t *Track) Stretches(events []tab.Event) []Stretch {
	blocks := t.cues(events)
	kinds := voices(blocks)
	ours := harps(blocks)
	for i, k := range ours {
		if k == Harp {
			kinds[i] = Harp
		}
	}
	return t.join(bridge(kinds, ours))
}

// space in seconds is the longest rest of a harp that plays on.
const space = 4.0

// bridge gives the harp the blocks without events that lie between two of its
// own, less than space apart.
func bridge(kinds, ours []Kind) []Kind {
	last := -1
	for i, k := range ours {
		if k == none {
			continue
		}
		if k == Harp && last >= 0 && ours[last] == Harp && float64(i-last)*blockSeconds < space {
			for j := last; j < i; j++ {
				kinds[j] = Harp
			}
		}
		last = i
	}
	return kinds
}

// join makes stretches of blocks.
func (t *Track) join(kinds []Kind) []Stretch {
	var out []Stretch
	for i, k := range kinds {
		start := t.start + float64(i)*blockSeconds
		if n := len(out); n > 0 && out[n-1].Kind == k {
			out[n-1].End = start + blockSeconds
			continue
		}
		out = append(out, Stretch{k, start, start + blockSeconds})
	}
	return out
}

// Of is who plays most of the time from start to end.
func Of(stretches []Stretch, start, end float64) Kind {
	var share [none]float64
	for _, s := range stretches {
		share[s.Kind] += max(0, min(end, s.End)-max(start, s.Start))
	}
	best := Harp
	for k, v := range share {
		if v > share[best] {
			best = Kind(k)
		}
	}
	return best
}

// harps is Harp or Other for every block that has events, none for the rest.
func harps(blocks []cues) []Kind {
	out := make([]Kind, len(blocks))
	var at []int
	var odds, cost []float64
	for i, x := range blocks {
		out[i] = none
		if x[filled] == 0 {
			continue
		}
		weight := trusted * min(1, x[filled]/full)
		odds = append(odds, weight*min(max(harpModel.odds(x)+harpFirst, -most), most))
		c := switching
		if len(at) > 0 && i-at[len(at)-1] >= apart {
			c /= 2
		}
		at, cost = append(at, i), append(cost, c)
	}
	for k, yes := range likeliest(odds, cost) {
		out[at[k]] = Other
		if yes {
			out[at[k]] = Harp
		}
	}
	return out
}

// voices is Voice or Other for every block, as if no harp played.
func voices(blocks []cues) []Kind {
	var odds, cost []float64
	for _, x := range blocks {
		odds, cost = append(odds, trusted*voiceModel.odds(x)), append(cost, switching/2)
	}
	out := make([]Kind, len(blocks))
	for i, yes := range likeliest(odds, cost) {
		out[i] = Other
		if yes {
			out[i] = Voice
		}
	}
	return out
}

// likeliest decides yes or no for each block, given the log odds of yes and
// what a change to that block costs (Viterbi 1967).
func likeliest(odds, cost []float64) []bool {
	type choice struct{ fromNo, fromYes bool } // whether yes was before
	back := make([]choice, len(odds))
	no, yes := 0.0, 0.0
	for i, z := range odds {
		back[i] = choice{yes-cost[i] > no, yes >= no-cost[i]}
		no, yes = max(no, yes-cost[i]), max(yes, no-cost[i])+z
	}
	out := make([]bool, len(odds))
	now := yes >= no
	for i := len(out) - 1; i >= 0; i-- {
		out[i] = now
		if now {
			now = back[i].fromYes
		} else {
			now = back[i].fromNo
		}
	}
	return out
}
