package whichharp

import (
	"context"

	"blowdraw/decode"
	"blowdraw/tabber/harp"
)

// What follows is what the program needs that fits the weights.

// Finalists is how many candidates of the first round go on to the second.
const Finalists = finalists

// Rounds are what both rounds of [Ranker.Rank] hear of each candidate in a clip, mono at
// pitch.Rate, and of the right harp in any case. Without any sound there is nothing.
func (r *Ranker) Rounds(ctx context.Context, c decode.Clip, right harp.Harp) (rounds [2][]Fit, err error) {
	s, err := r.search(ctx, c, Options{SongKey: AnyKey})
	if err != nil || s.first == nil {
		return rounds, err
	}
	for i, candidates := range [2][]Candidate{s.first, s.second} {
		there := false
		for _, c := range candidates {
			rounds[i] = append(rounds[i], c.Fit)
			there = there || same(c.Harp, right)
		}
		if !there {
			rounds[i] = append(rounds[i], r.fit([2]decode.Clip{s.short, s.long}[i], s.cents, right))
		}
	}
	return rounds, nil
}

// Weigh is the log weight of a harp of which no song's key is known.
func (w Weights) Weigh(c Cues) float64 {
	z, _ := w.weigh(c, AnyKey)
	return z
}
