//go:build tune

package whichharp

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/lab/score"
)

// The fit of the weights in weigh.go, over folders of clips with their truth:
//
//	go test -v -tags tune -run TestFit -timeout 0 ./tabber/whichharp -args FOLDER ...
//
// It prints the numbers to be put there, and how often the right harp comes first
// and among the first three on clips that the numbers were not fitted on (clips
// are split into two halves, each judged by the fit on the other). Folders after
// -judge are judged by the fit on all the rest. What was heard is kept in the
// file after -heard, since that takes longest; with other network weights, delete
// it. The folders were
//
//	go run ./tabber/hardset/write -positions -seed 501 FOLDER
//	go run ./tabber/hardset/write -seed 8801 FOLDER
//
// and, with pitch/ear/train/clips.py, bands under the first:
//
//	python3 clips.py --under FOLDER-OF-SEED-501 --seed 1000000555 FOLDER
var (
	heardFile = flag.String("heard", "", "file that keeps what was heard")
	ridge     = flag.Float64(
		"ridge",
		2,
		"penalty on weights that are e times what stands in weigh.go, or an e-th, in log likelihood",
	)
	judge = flag.String("judge", "", "folders, separated by commas, that are judged only")
)

// heard is a clip as both rounds heard it. Right is the harp.
type heard struct {
	Tier   string
	Right  harp.Harp
	Rounds [2][]tabber.Fit
	read   [2][]features
}

func TestFit(t *testing.T) {
	kept := map[string]heard{}
	readHeard(t, kept)
	clips := hearAll(t, kept, flag.Args())
	if len(clips) == 0 {
		t.Fatal("no clips to fit: name folders")
	}
	halves := [2][]heard{}
	for i, c := range clips {
		halves[i%2] = append(halves[i%2], c)
	}
	fmt.Println("the numbers in weigh.go")
	table(clips, fitted)
	fmt.Println("held out")
	for i := range halves {
		table(halves[i], fit(halves[1-i]))
	}
	model := fit(clips)
	if *judge != "" {
		fmt.Println("other clips, fitted on all of the above")
		table(hearAll(t, kept, strings.Split(*judge, ",")), model)
	}
	fmt.Printf("\n%+v\n", model)
}

func readHeard(t *testing.T, kept map[string]heard) {
	data, err := os.ReadFile(*heardFile)
	if *heardFile == "" || errors.Is(err, fs.ErrNotExist) {
		return
	}
	if err == nil {
		err = json.Unmarshal(data, &kept)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// hearAll listens to the clips of the folders as Rank does, and for the right
// harp in both rounds.
func hearAll(t *testing.T, kept map[string]heard, folders []string) []heard {
	r, err := New()
	if err != nil {
		t.Fatal(err)
	}
	var out []heard
	for _, dir := range folders {
		files, _ := filepath.Glob(filepath.Join(dir, "*.truth.json"))
		for _, path := range files {
			h, ok := kept[path]
			if !ok {
				h = hearClip(t, r, path)
				kept[path] = h
			}
			for i, round := range h.Rounds {
				for _, f := range round {
					h.read[i] = append(h.read[i], read(f))
				}
			}
			out = append(out, h)
		}
		if data, err := json.Marshal(kept); err != nil {
			t.Fatal(err)
		} else if *heardFile != "" {
			if err := os.WriteFile(*heardFile, data, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	return out
}

func hearClip(t *testing.T, r *Ranker, path string) heard {
	ref, tier, err := score.ReadTruth(path)
	if err != nil {
		t.Fatal(err)
	}
	c := load(t, filepath.Join(filepath.Dir(path), ref.Recording))
	out := heard{Tier: tier, Right: ref.Harp}
	s, err := r.search(context.Background(), c, Options{SongKey: AnyKey})
	if err != nil {
		t.Fatal(err)
	}
	for i, round := range [][]Candidate{s.first, s.second} {
		right := false
		for _, c := range round {
			out.Rounds[i] = append(out.Rounds[i], c.Fit)
			right = right || same(c.Harp, ref.Harp)
		}
		if !right {
			out.Rounds[i] = append(out.Rounds[i], r.t.For(ref.Harp).Fit([]decode.Clip{s.short, s.long}[i], s.cents))
		}
	}
	return out
}

// table prints for each tier how many right harps the first round keeps, and how
// good the ranking of the second round is.
func table(clips []heard, w weights) {
	type sums struct{ n, kept, first, three, loss float64 }
	tiers, names := map[string]*sums{}, []string{}
	for _, c := range clips {
		for _, tier := range []string{c.Tier, "all"} {
			s := tiers[tier]
			if s == nil {
				s = &sums{}
				tiers[tier], names = s, append(names, tier)
			}
			place, p := c.rank(1, w)
			s.n++
			if place, _ := c.rank(0, w); place < finalists {
				s.kept++
			}
			s.loss -= math.Log(p)
			if place == 0 {
				s.first++
			}
			if place < 3 {
				s.three++
			}
		}
	}
	for _, name := range names {
		s := tiers[name]
		fmt.Printf(
			"%-14s%4.0f clips: kept %.3f, first %.3f, first three %.3f, log loss %.3f\n",
			name,
			s.n,
			s.kept/s.n,
			s.first/s.n,
			s.three/s.n,
			s.loss/s.n,
		)
	}
}

// rank of the right harp in a round, from 0, and its probability.
func (c heard) rank(round int, w weights) (place int, p float64) {
	var scores []float64
	at := 0
	for i, r := range c.read[round] {
		z, _ := w.weigh(r, AnyKey)
		scores = append(scores, z)
		if same(r.Harp, c.Right) {
			at = i
		}
	}
	for _, s := range scores {
		if s > scores[at] {
			place++
		}
	}
	return place, softmax(scores)[at]
}

// fit changes one weight at a time, by ever smaller factors, as long as that
// raises the likelihood of the right harps in both rounds.
func fit(clips []heard) weights {
	best := fitted
	least := loss(clips, best)
	for step := 0.5; step > 0.01; {
		gained := false
		for i := range knobs(&best) {
			for _, factor := range []float64{1 + step, 1 / (1 + step)} {
				try := best
				*knobs(&try)[i] *= factor
				if x := loss(clips, try); x < least-1e-6 {
					best, least, gained = try, x, true
				}
			}
		}
		if !gained {
			step /= 2
		}
	}
	return best
}

func knobs(w *weights) []*float64 {
	return []*float64{&w.evidence, &w.sounding, &w.strange, &w.strain, &w.apart, &w.usage, &w.trust}
}

// loss is the negative log likelihood, the mean of both rounds, and a penalty on
// weights far from the numbers in weigh.go: on few clips some would grow without
// end.
func loss(clips []heard, w weights) float64 {
	sum := 0.0
	start := fitted
	for i, k := range knobs(&w) {
		x := math.Log(*k / *knobs(&start)[i])
		sum += *ridge * x * x
	}
	for _, c := range clips {
		for round := range c.Rounds {
			_, p := c.rank(round, w)
			sum -= math.Log(p) / float64(len(c.Rounds))
		}
	}
	return sum
}

func load(t *testing.T, path string) decode.Clip {
	c, _, _, err := decode.Load(path, decode.Options{Rate: pitch.Rate})
	if err != nil {
		t.Fatal(err)
	}
	return c
}
