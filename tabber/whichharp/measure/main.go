// Command measure ranks the harps for every clip of a folder that has its truth
// beside it, and prints where the right one comes, clip by clip and as shares:
//
//	go run ./tabber/whichharp/measure FOLDER
//
// NAME.truth.json is what score.ReadTruth reads and
// `go run ./tabber/hardset/write -positions FOLDER` writes. "sure" is the
// probability given to the first harp: its mean should be the share that is right.
// "cents" is how far the measured tuning is off.
package main

import (
	"context"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/lab/score"
	"blowdraw/tabber/whichharp"
)

func main() {
	flag.Parse()
	if flag.NArg() != 1 {
		fmt.Fprintln(os.Stderr, "usage: go run ./tabber/whichharp/measure FOLDER")
		os.Exit(2)
	}
	if err := measure(flag.Arg(0)); err != nil {
		fmt.Fprintln(os.Stderr, "measure:", err)
		os.Exit(1)
	}
}

// result is how the right harp fared in one clip.
type result struct {
	place int // of the right harp, from 1; 0 if it is not in the list
	sure  float64
	key   bool // the song key is right; counts only if the truth tells it
	cents float64
}

func measure(dir string) error {
	files, err := filepath.Glob(filepath.Join(dir, "*.truth.json"))
	if err != nil || len(files) == 0 {
		return fmt.Errorf("no clips (NAME.truth.json) in %s", dir)
	}
	r, err := whichharp.New()
	if err != nil {
		return err
	}
	byTier := map[string][]result{}
	var tiers []string
	var all []result
	for _, f := range files {
		x, tier, err := rank(r, f)
		if err != nil {
			return err
		}
		if !slices.Contains(tiers, tier) {
			tiers = append(tiers, tier)
		}
		byTier[tier] = append(byTier[tier], x)
		all = append(all, x)
	}
	fmt.Printf("\n%-16s%8s%8s%8s%8s%8s\n", "", "first", "first 3", "sure", "key", "cents")
	for _, t := range tiers {
		printShares(t, byTier[t])
	}
	printShares("all", all)
	return nil
}

func rank(r *whichharp.Ranker, truth string) (result, string, error) {
	var x result
	ref, tier, err := score.ReadTruth(truth)
	if err != nil {
		return x, "", err
	}
	c, _, _, err := decode.Load(filepath.Join(filepath.Dir(truth), ref.Recording), decode.Options{Rate: pitch.Rate})
	if err != nil {
		return x, "", err
	}
	k, err := r.Rank(context.Background(), c, whichharp.Options{SongKey: whichharp.AnyKey})
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
	fmt.Printf("%-22s%-24splace %2d; %s %.2f, %s %.2f; %4.1f cents\n", strings.TrimSuffix(filepath.Base(truth), ".truth.json"),
		name(ref.Harp), x.place, name(best.Harp), best.Probability, name(next.Harp), next.Probability, x.cents)
	return x, tier, nil
}

func name(h harp.Harp) string { return h.Name + " " + h.Layout.Name }

func printShares(tier string, results []result) {
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
	fmt.Printf("%-16s%8.3f%8.3f%8.3f%8.3f%8.1f\n", fmt.Sprintf("%s (%d)", tier, len(results)), first, three, sure, key, cents)
}
