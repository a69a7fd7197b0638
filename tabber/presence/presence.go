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
	pieces []piece            // of frames that will not be heard again
	recent []sketch           // the others
	traits map[float64]traits // of events by their start

	level, whole []centibel                  // of every frame, see sketch
	spectrum     [sketchWindow/2 + 1]float64 // power, summed over frames
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

// Players tells who plays where in all that was added. The harp plays where
// events are that are its own, and in the space between two of them if that is
// less than space seconds.
func (t *Track) Players(events []tab.Event) Players {
	blocks := t.cues(events)
	kinds := voices(blocks)
	ours, sure := harps(blocks)
	for i, k := range ours {
		if k == Harp {
			kinds[i] = Harp
		}
	}
	return Players{t.join(bridge(kinds, ours)), t.start, sure}
}

// Players are who plays in a recording. Stretches are all of it in order; nil if
// nothing is known.
type Players struct {
	Stretches []Stretch

	start float64
	sure  []float64 // of every block, the probability that its events are a harp's
}

// Harp is the probability that a harp plays an event from start to end; 1 if
// nothing is known.
func (p Players) Harp(start, end float64) float64 {
	sum, of := 0.0, 0.0
	first := int((start - p.start) / blockSeconds)
	for i := max(0, first); i < len(p.sure); i++ {
		from := p.start + float64(i)*blockSeconds
		if from >= end {
			break
		}
		share := min(end, from+blockSeconds) - max(start, from)
		sum, of = sum+share*p.sure[i], of+share
	}
	if of <= 0 {
		return 1
	}
	return sum / of
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
func (p Players) Of(start, end float64) Kind {
	var share [none]float64
	for _, s := range p.Stretches {
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

// harps is Harp or Other for every block that has events, none for the rest; and
// the probability of Harp, 1 for the rest.
func harps(blocks []cues) (kinds []Kind, sure []float64) {
	kinds, sure = make([]Kind, len(blocks)), make([]float64, len(blocks))
	var at []int
	var decide, believe, cost []float64
	for i, x := range blocks {
		kinds[i], sure[i] = none, 1
		if x[filled] == 0 {
			continue
		}
		z, weight := harpModel.odds(x), trusted*min(1, x[filled]/full)
		decide = append(decide, weight*within(z+harpFirst))
		believe = append(believe, weight*within(z))
		c := switching
		if len(at) > 0 && i-at[len(at)-1] >= apart {
			c /= 2
		}
		at, cost = append(at, i), append(cost, c)
	}
	for k, yes := range likeliest(decide, cost) {
		kinds[at[k]] = Other
		if yes {
			kinds[at[k]] = Harp
		}
	}
	for k, p := range posterior(believe, cost) {
		sure[at[k]] = p
	}
	return kinds, sure
}

// within limits the log odds of one block.
func within(odds float64) float64 { return min(max(odds, -most), most) }

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

// posterior is the probability of yes for each block, given the log odds of yes
// and what a change to that block costs (forward and backward weights, Rabiner
// 1989).
func posterior(odds, cost []float64) []float64 {
	n := len(odds)
	out := make([]float64, n)
	no, yes := 0.0, 0.0
	for i, z := range odds {
		if i > 0 {
			no, yes = logSum(no, yes-cost[i]), logSum(yes, no-cost[i])
		}
		yes += z
		out[i] = yes - no
	}
	no, yes = 0, 0
	for i := n - 1; i >= 0; i-- {
		out[i] = 1 / (1 + math.Exp(-out[i]-yes+no))
		yes += odds[i]
		no, yes = logSum(no, yes-cost[i]), logSum(yes, no-cost[i])
	}
	return out
}

// logSum is the logarithm of the sum of what a and b are the logarithms of.
func logSum(a, b float64) float64 { return max(a, b) + math.Log1p(math.Exp(-math.Abs(a-b))) }
