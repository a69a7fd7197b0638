package measure

import (
	"context"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/lab/truth"
	"blowdraw/tabber/whichharp"
)

// result is how the right harp fared in one clip.
type result struct {
	place int // of the right harp, from 1; 0 if it is not in the list
	sure  float64
	key   bool // the song key is right; counts only if the truth tells it
	cents float64
}

// Harps ranks the harps for every clip of a folder and prints where the right one comes,
// clip by clip unless it is to be brief, and as shares. "sure" is the probability given to
// the first harp: its mean should be the share that is right. "cents" is how far the
// measured tuning is off.
func Harps(ctx context.Context, w io.Writer, dir string, brief bool) error {
	paths, err := truth.In(dir)
	if err != nil {
		return err
	}
	r, err := whichharp.New()
	if err != nil {
		return err
	}
	byTier := map[string][]result{}
	var tiers []string
	var all []result
	for _, path := range paths {
		clips := w
		if brief {
			clips = io.Discard
		}
		x, tier, err := rank(ctx, clips, r, path)
		if err != nil {
			return err
		}
		if !slices.Contains(tiers, tier) {
			tiers = append(tiers, tier)
		}
		byTier[tier] = append(byTier[tier], x)
		all = append(all, x)
	}
	if !brief {
		fmt.Fprintln(w)
	}
	fmt.Fprintf(w, "%-16s%8s%8s%8s%8s%8s\n", "", "first", "first 3", "sure", "key", "cents")
	for _, t := range tiers {
		printShares(w, t, byTier[t])
	}
	printShares(w, "all", all)
	return nil
}

func rank(ctx context.Context, w io.Writer, r *whichharp.Ranker, path string) (result, string, error) {
	var x result
	ref, tier, err := truth.ReadDocument(path)
	if err != nil {
		return x, "", err
	}
	c, _, _, err := decode.Load(filepath.Join(filepath.Dir(path), ref.Recording),
		decode.Options{Rate: pitch.Rate})
	if err != nil {
		return x, "", err
	}
	k, err := r.Rank(ctx, c, whichharp.Options{SongKey: whichharp.AnyKey})
	if err != nil || len(k.Candidates) == 0 {
		return x, tier, err
	}
	best := k.Candidates[0]
	for i, c := range k.Candidates {
		if c.Harp.Base == ref.Harp.Base && c.Harp.Layout.Equal(ref.Harp.Layout) {
			x.place = i + 1
		}
	}
	x.sure, x.key = best.Probability, best.SongKey() == ref.SongKey
	x.cents = math.Abs(k.Tuning.Cents - ref.TuningCents)
	next := k.Candidates[1]
	fmt.Fprintf(w, "%-22s%-24splace %2d; %s %.2f, %s %.2f; %4.1f cents\n", truth.Name(path),
		name(ref.Harp), x.place, name(best.Harp), best.Probability, name(next.Harp), next.Probability, x.cents)
	return x, tier, nil
}

func name(h harp.Harp) string { return h.Name + " " + h.Layout.Name }

func printShares(w io.Writer, tier string, results []result) {
	var first, three, sure, key, cents float64
	for _, x := range results {
		n := float64(len(results))
		sure, cents = sure+x.sure/n, cents+x.cents/n
		if x.place == 1 {
			first += 1 / n
		}
		if x.place >= 1 && x.place <= 3 {
			three += 1 / n
		}
		if x.key {
			key += 1 / n
		}
	}
	fmt.Fprintf(w, "%-16s%8.3f%8.3f%8.3f%8.3f%8.1f\n", fmt.Sprintf("%s (%d)", tier, len(results)), first, three,
		sure, key, cents)
}
