package playing

import (
	"math"
	"slices"

	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/tab"
)

const (
	shakeNote    = 0.2  // s, the longest single note within a shake,
	shakeLast    = 0.3  // and at its end, where it rings on
	shakeSlowest = 3.6  // Hz, there and back; slower ones are notes
	shakeFastest = 12   // Hz
	shakeTurns   = 6    // changes of hole that it takes
	shakeLeast   = 4    // dB by which each reed leads when it is its turn
	shakeSwing   = 0.4  // share of that at which it has its turn
	shakeMost    = 12   // dB, a lead beyond which counts no more
	shakeRegular = 0.75 // share of the changes that come in time
)

// Shaken is an event with the rate of its shake in Hz, there and back; 0 for none.
type Shaken struct {
	tab.Event
	Hz float64
}

// MergeShakes makes one event of each fast alternation of two neighbouring holes, which an
// ear hears as short notes or as a double stop: those of one breath whose balance swings
// there and back regularly, at shakeSlowest or faster.
func MergeShakes(h harp.Harp, f pitch.Frames, events []tab.Event) []Shaken {
	var out []Shaken
	for i := 0; i < len(events); {
		pair := pairAt(events, i)
		n := 1
		for pair != nil && i+n < len(events) && inShake(events[i+n], pair, shakeLast) && events[i+n].Start-events[i+n-1].End < contiguous {
			n++
			if !inShake(events[i+n-1], pair, shakeNote) {
				break
			}
		}
		hz := 0.0
		if pair != nil {
			hz = shakeRate(balance(h, f, events[i:i+n], pair))
		}
		if hz == 0 {
			out = append(out, Shaken{events[i], 0})
			i++
			continue
		}
		out = append(out, Shaken{merged(events[i:i+n], pair), hz})
		i += n
	}
	return out
}

// pairAt are the two neighbouring holes that a shake that begins with event i would
// have, the lower first; nil if none can.
func pairAt(events []tab.Event, i int) []harp.Action {
	pair := events[i].Actions
	if len(pair) == 1 && i+1 < len(events) && len(events[i+1].Actions) > 0 {
		pair = slices.Concat(pair, events[i+1].Actions)
		slices.SortFunc(pair, func(a, b harp.Action) int { return a.Hole - b.Hole })
		pair = slices.Compact(pair)
	}
	if len(pair) != 2 || pair[1].Hole-pair[0].Hole != 1 || pair[0].Breath != pair[1].Breath ||
		!inShake(events[i], pair, shakeNote) {
		return nil
	}
	return pair
}

// inShake reports whether an event can be part of a shake of the pair in which single
// notes last longest seconds at most.
func inShake(e tab.Event, pair []harp.Action, longest float64) bool {
	switch len(e.Actions) {
	case 1:
		return slices.Contains(pair, e.Actions[0]) && e.End-e.Start <= longest
	case 2:
		return slices.Equal(e.Actions, pair)
	}
	return false
}

// balance is for each frame of the events by how many dB the lower reed of the pair
// is louder than the upper one, shakeMost at most.
func balance(h harp.Harp, f pitch.Frames, events []tab.Event, pair []harp.Action) []float64 {
	var out []float64
	low, high := lattice.Row(h, pair[0]), lattice.Row(h, pair[1])
	for _, e := range events {
		for k := f.At(e.Start); k < min(f.At(e.End), f.N); k++ {
			lead := 0.0
			switch {
			case len(e.Actions) == 1 && e.Actions[0] == pair[0]:
				lead = shakeMost
			case len(e.Actions) == 1:
				lead = -shakeMost
			case f.Loud != nil:
				lead = float64(f.Loud[k*pitch.Rows+low] - f.Loud[k*pitch.Rows+high])
			}
			out = append(out, min(max(lead, -shakeMost), shakeMost))
		}
	}
	return out
}

// shakeRate is how many times a second a balance swings there and back, about the
// middle between its extremes; 0 if it does not do so regularly.
func shakeRate(balance []float64) float64 {
	sorted := slices.Sorted(slices.Values(balance))
	tenth := len(sorted) / 10
	if tenth == 0 {
		return 0
	}
	low, high := sorted[tenth], sorted[len(sorted)-1-tenth]
	middle, lead := (low+high)/2, (high-low)/2
	if lead < shakeLeast {
		return 0
	}
	var changes []float64 // frames
	side := 0.0
	for i, b := range balance {
		if math.Abs(b-middle) > shakeSwing*lead && (b-middle)*side <= 0 {
			if side != 0 {
				changes = append(changes, float64(i))
			}
			side = b - middle
		}
	}
	if len(changes) < shakeTurns {
		return 0
	}
	gaps := make([]float64, len(changes)-1)
	for i := range gaps {
		gaps[i] = changes[i+1] - changes[i]
	}
	usual := pitch.Median(gaps)
	inTime, sum := 0, 0.0
	for _, g := range gaps {
		if g > 0.5*usual && g < 1.7*usual {
			inTime, sum = inTime+1, sum+g
		}
	}
	hz := float64(inTime) / (2 * sum * pitch.HopSeconds)
	if hz < shakeSlowest || hz > shakeFastest || float64(inTime) < shakeRegular*float64(len(gaps)) {
		return 0
	}
	return hz
}

// merged is the one event of a shake. It is as sure as its parts are over time.
func merged(events []tab.Event, pair []harp.Action) tab.Event {
	last := events[len(events)-1]
	e := tab.Event{Start: events[0].Start, End: last.End, Actions: pair, Texture: tab.Texture(pair)}
	sum := 0.0
	for _, x := range events {
		e.Confidence += x.Confidence * (x.End - x.Start)
		sum += x.End - x.Start
	}
	e.Confidence /= sum
	for _, x := range events {
		for _, d := range x.Doubts {
			d.Probability *= (x.End - x.Start) / sum
			if k := slices.IndexFunc(e.Doubts, func(o tab.Doubt) bool { return o.Word == d.Word }); k >= 0 {
				e.Doubts[k].Probability += d.Probability
			} else {
				e.Doubts = append(e.Doubts, d)
			}
		}
	}
	for _, a := range pair {
		var pitches, weights []float64
		for _, x := range events {
			if k := slices.Index(x.Actions, a); k >= 0 {
				pitches, weights = append(pitches, x.Pitches[k]), append(weights, x.End-x.Start)
			}
		}
		e.Pitches = append(e.Pitches, pitch.WeightedMedian(pitches, weights))
	}
	return e
}
