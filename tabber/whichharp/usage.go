package whichharp

import (
	"math"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"

	"gonum.org/v1/gonum/floats"
)

// What players do in a position: how often the song is in it, and how much they
// use each degree of the song's key and each hole. All of it is common practice,
// no source, and left coarse on purpose.
type habit struct {
	position int
	share    float64
	degrees  [12]float64 // semitones above the song key
	minor    [12]float64 // the same on layouts with a minor blow chord
	holes    [10]float64
}

var habits = []habit{
	{1, 0.24, [12]float64{4, .3, 2, 1.2, 3, 1.5, .3, 3.5, .3, 2.2, .8, 1.5},
		[12]float64{4, .3, 2, 3, .3, 2, .5, 3, 1.5, 1, 1.5, 1}, [10]float64{3, 3, 3, 3, 2.5, 3, 3, 3, 3, 2}},
	{2, 0.5, [12]float64{4, .3, 1.3, 3, 2.2, 2.2, 1.2, 3, .3, 1.5, 3, .3},
		[12]float64{4, .3, 2, 3, .3, 2.2, 1, 3, 1.3, .8, 3, .3}, [10]float64{2.5, 4, 4, 4, 3, 2.5, 1, 1, .8, .4}},
	{3, 0.18, [12]float64{4, .3, 1.8, 3, .4, 2.5, .4, 3.2, .4, 1.5, 3, .3},
		[12]float64{
			4,
			.3,
			1.8,
			3,
			.4,
			2.5,
			.4,
			3.2,
			.8,
			1,
			3,
			.3,
		}, [10]float64{1.5, 2, 2, 4, 4, 4, 2.5, 3, 2.5, 1.5}},
	{
		4,
		0.025,
		[12]float64{4, .3, 2, 3, .3, 2.5, .3, 3, 2, .3, 2.5, .5},
		[12]float64{},
		[10]float64{1, 1.5, 2, 3, 3, 4, 3, 3, 2, 1},
	},
	{
		5,
		0.025,
		[12]float64{4, 1, .8, 3, .3, 2.5, .3, 3, 1.5, .3, 2.5, .3},
		[12]float64{},
		[10]float64{1, 4, 3, 3, 3, 3, 2, 2, 1, .5},
	},
	{
		12,
		0.03,
		[12]float64{4, .3, 2, .3, 3, .6, .6, 3, .3, 2.2, .6, 1.5},
		[12]float64{},
		[10]float64{1, 2, 2, 2, 3, 3, 2, 2, 2, 1},
	},
}

const (
	bentDraw = 0.7    // a draw bend against a natural note
	bentBlow = 0.6    // a blow bend
	notThere = 0.0015 // probability of a note that the harp does not have
	average  = -3.2   // log probability of an ordinary note, so that their number alone says nothing
	whole    = 0.46   // seconds from which an event counts fully
)

// usage tells how likely a position's player plays each note: log probabilities
// by semitones above hole 1 blow.
func (h habit) usage(l harp.Layout) map[int]float64 {
	k := harp.Harp{Layout: l}
	degrees := h.degrees
	if l.Holes() > 1 && l.Blow[1] == 3 && h.minor != [12]float64{} {
		degrees = h.minor
	}
	out := map[int]float64{}
	sum := 0.0
	for _, a := range k.Actions(false) {
		w := h.holes[min(a.Hole, len(h.holes))-1] * degrees[(k.Offset(a)+12-harp.SongKey(0, h.position)+12)%12]
		switch {
		case a.Bend > 0 && a.Breath == harp.Draw:
			w *= bentDraw
		case a.Bend > 0:
			w *= bentBlow
		}
		out[k.Offset(a)] += w
		sum += w
	}
	for n, w := range out {
		out[n] = math.Log(w / sum)
	}
	return out
}

// likes is how likely the notes of a fit are in the position of each habit, as
// log likelihoods against ordinary notes, and at last in any other position.
func likes(f Fit) []float64 {
	var out []float64
	for _, b := range habits {
		out = append(out, b.like(f))
	}
	return append(out, habit{0, 0, evenly, evenly, [10]float64(evenly[:10])}.like(f))
}

// positionsOf weighs every position of a harp by the likes, which count by trust:
// the log weight of all together, and their probabilities. With a song key only
// one position counts.
func positionsOf(h harp.Harp, likes []float64, songKey int, trust float64) (float64, []Position) {
	var scores []float64
	var out []Position
	for i, b := range habits {
		if songKey == AnyKey || harp.SongKey(h.Key(), b.position) == songKey {
			scores = append(scores, math.Log(b.share)+trust*likes[i])
			out = append(out, Position{Number: b.position})
		}
	}
	if len(out) == 0 {
		scores = []float64{math.Log(rare) + trust*likes[len(habits)]}
		out = []Position{{Number: harp.Position(h.Key(), songKey)}}
	}
	for i, p := range softmax(scores) {
		out[i].Probability = p
	}
	sortPositions(out)
	return floats.LogSumExp(scores), out
}

// rare is the share of each of the positions that habits leaves out.
const rare = 0.003

var evenly = [12]float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1}

// like is the log likelihood of the events for a player with the habit, against
// ordinary notes.
func (b habit) like(f Fit) float64 {
	usage := b.usage(f.Harp.Layout)
	sum := 0.0
	for _, e := range f.Events {
		if len(e.Pitches) == 0 {
			continue
		}
		mean := 0.0
		for _, n := range notes(f, e) {
			u, ok := usage[n]
			if !ok {
				u = math.Log(notThere)
			}
			mean += u / float64(len(e.Pitches))
		}
		sum += math.Sqrt(min(1, (e.End-e.Start)/whole)) * (mean - average)
	}
	return sum
}

// notes of an event in semitones above hole 1 blow.
func notes(f Fit, e tab.Event) []int {
	var out []int
	for _, p := range e.Pitches {
		out = append(out, int(math.Round(p-f.Tuning.Cents/100))-f.Harp.Base)
	}
	return out
}
