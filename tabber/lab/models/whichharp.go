package models

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"

	"blowdraw/decode/logistic"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/lab/fit"
	"blowdraw/tabber/whichharp"

	"gonum.org/v1/gonum/floats"
)

// whichHarp weighs what speaks for a harp.
func whichHarp() fit.Model {
	return fit.Model{
		Name: "which-harp",
		Files: []fit.File{{Name: "which-harp", Path: "tabber/whichharp/weights.json",
			Says: "log odds of a harp for each unit of what speaks for it, and how far a note's likelihood is trusted"}},
		Needs: []string{"positions-501", "hard-8801", "under-positions"}, On: []string{ear},
		After: []string{"decision"},
		Fit:   fitWhichHarp,
	}
}

// harpRidge is the penalty on weights that are e times what they are now, or an e-th, in
// log likelihood: on few clips some would grow without end.
const harpRidge = 2

// ranked is a clip as both rounds heard it, with the cues of each candidate.
type ranked struct {
	tier   string
	number int
	rounds [2][]whichharp.Cues
	right  [2]int // the place of the right harp in each round
}

// fitWhichHarp prints for each tier how many right harps the first round keeps, and how good
// the ranking of the second round is, on clips that the weights were not fitted to: each
// half of the clips is judged by the fit to the other one.
func fitWhichHarp(ctx context.Context, g fit.Given) ([]fit.Numbers, error) {
	all, err := rankedClips(ctx, g.Folders)
	if err != nil {
		return nil, err
	}
	if len(all) == 0 {
		return nil, errors.New("there are no clips with sound")
	}
	now := whichharp.LearnedWeights()
	fmt.Fprintln(g.Log, "the numbers of now")
	printRanks(g.Log, all, now)
	halves := fit.Halves(all, func(c ranked) int { return c.number })
	fmt.Fprintln(g.Log, "held out")
	for i := range halves {
		printRanks(g.Log, halves[i], harpWeights(halves[1-i], now))
	}
	found := harpWeights(all, now)
	if len(g.Judged) > 0 {
		other, err := rankedClips(ctx, g.Judged)
		if err != nil {
			return nil, err
		}
		fmt.Fprintln(g.Log, "other clips, fitted on all of the above")
		printRanks(g.Log, other, found)
	}
	return []fit.Numbers{numbers(logistic.Model{Weights: found}, whichharp.WeightNames)}, nil
}

// rankedClips listens to the clips of folders as the program does, and for the right harp
// in both rounds.
func rankedClips(ctx context.Context, folders []string) ([]ranked, error) {
	r, err := whichharp.New()
	if err != nil {
		return nil, err
	}
	return fromClips(ctx, folders, func(c clip) ([]ranked, error) {
		heard, err := r.Rounds(ctx, c.sound, c.ref.Harp)
		if err != nil || heard[0] == nil {
			return nil, err
		}
		out := ranked{tier: c.truth.Tier, number: c.number}
		for round, fits := range heard {
			out.right[round] = slices.IndexFunc(fits, func(f whichharp.Fit) bool { return sameHarp(f.Harp, c.ref.Harp) })
			for _, f := range fits {
				out.rounds[round] = append(out.rounds[round], whichharp.CuesOf(f))
			}
		}
		return []ranked{out}, nil
	})
}

func sameHarp(a, b harp.Harp) bool { return a.Base == b.Base && a.Layout.Equal(b.Layout) }

// rank of the right harp in a round, from 0, and its probability.
func (c ranked) rank(round int, weights []float64) (place int, p float64) {
	w := whichharp.WeightsOf(weights)
	var scores []float64
	for _, x := range c.rounds[round] {
		scores = append(scores, w.Weigh(x))
	}
	right := scores[c.right[round]]
	for _, s := range scores {
		if s > right {
			place++
		}
	}
	return place, math.Exp(right - floats.LogSumExp(scores))
}

// harpWeights changes one weight at a time, by ever smaller factors, as long as that raises
// the likelihood of the right harps in both rounds.
func harpWeights(clips []ranked, now []float64) []float64 {
	return fit.SearchFactors(now, func(w []float64) float64 {
		loss := 0.0
		for i := range w {
			x := math.Log(w[i] / now[i])
			loss += harpRidge * x * x
		}
		for _, c := range clips {
			for round := range c.rounds {
				_, p := c.rank(round, w)
				loss -= math.Log(p) / float64(len(c.rounds))
			}
		}
		return loss
	})
}

// printRanks prints for each tier how many right harps the first round keeps, how often the
// second puts them first and among the first three, and the mean negative logarithm of
// their probability.
func printRanks(w io.Writer, clips []ranked, weights []float64) {
	type sums struct{ n, kept, first, three, loss float64 }
	tiers := map[string]sums{}
	for _, c := range clips {
		before, _ := c.rank(0, weights)
		place, p := c.rank(1, weights)
		for _, tier := range []string{c.tier, "all"} {
			s := tiers[tier]
			s.n, s.loss = s.n+1, s.loss-math.Log(p)
			if before < whichharp.Finalists {
				s.kept++
			}
			if place == 0 {
				s.first++
			}
			if place < 3 {
				s.three++
			}
			tiers[tier] = s
		}
	}
	for _, name := range slices.Sorted(maps.Keys(tiers)) {
		s := tiers[name]
		fmt.Fprintf(w, "%-14s%4.0f clips: kept %.3f, first %.3f, first three %.3f, log loss %.3f\n", name, s.n,
			s.kept/s.n, s.first/s.n, s.three/s.n, s.loss/s.n)
	}
}
