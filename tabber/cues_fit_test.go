//go:build tune

package tabber

import (
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/compare"
	"blowdraw/tabber/lab/fit"
	"blowdraw/tabber/lab/score"
	"blowdraw/tabber/tab"
)

// The fit of learnedCues, over folders of clips with their truth:
//
//	go test -v -tags tune -run TestFitCues -timeout 0 ./tabber -args -judge FOLDER,... FOLDER ...
//
// It prints the numbers to be put into cuemodels.go and how right the marks are that the
// models fitted on the folders put on the clips of the judged ones. The folders were
//
//	go run ./tabber/hardset/write -played -seed N FOLDER    for N of 501 to 504; 601 and 602 were judged, and
//	what marks.go and cues.go ask for chosen there

// cued is an event that was heard with its cues for one mark, and whether it has it.
type cued struct {
	x     []float64 // nil: no mark whatever the model
	right bool
	tier  string
}

// hearCues gives for each mark the events of the clips, and how many true marks there
// are in a tier.
func hearCues(t *testing.T, folders []string) (map[string][]cued, map[string]map[string]int) {
	var paths []string
	for _, dir := range folders {
		files, _ := filepath.Glob(filepath.Join(dir, "*.truth.json"))
		paths = append(paths, files...)
	}
	out, total := map[string][]cued{}, map[string]map[string]int{}
	parts, refs, tiers := make([]map[string][]cued, len(paths)), make([]tab.Document, len(paths)), make([]string, len(paths))
	each(len(paths), func(i int) {
		var err error
		if refs[i], tiers[i], err = score.ReadTruth(paths[i]); err == nil {
			parts[i], err = cuesOfClip(paths[i], refs[i], tiers[i])
		}
		if err != nil {
			t.Error(err)
		}
	})
	for i, part := range parts {
		for name, list := range part {
			out[name] = append(out[name], list...)
		}
		for _, e := range refs[i].Events {
			for _, m := range e.Marks {
				if total[m.Name] == nil {
					total[m.Name] = map[string]int{}
				}
				total[m.Name][tiers[i]]++
				total[m.Name]["all"]++
			}
		}
	}
	return out, total
}

// heardClip is what a clip's transcription leaves for the marks. It is kept beside the clip
// (NAME.heard.json) and read from there: delete it when the ear changes.
type heardClip struct {
	Events []tab.Event
	Cents  float64
}

func hearOnce(tr *Transcriber, path string, c decode.Clip) (h heardClip, err error) {
	kept := strings.TrimSuffix(path, ".truth.json") + ".heard.json"
	if b, err := os.ReadFile(kept); err == nil {
		return h, json.Unmarshal(b, &h)
	}
	o := newOverview()
	r, _, _ := tr.part(windowOf(c), math.NaN(), o)
	tr.leaveOut(&r, o.who.Players(r.Events))
	h = heardClip{r.Events, r.TuningCents}
	b, err := json.Marshal(h)
	if err != nil {
		return h, err
	}
	return h, os.WriteFile(kept, b, 0o644)
}

func cuesOfClip(path string, ref tab.Document, tier string) (map[string][]cued, error) {
	clip, _, _, err := decode.Load(filepath.Join(filepath.Dir(path), ref.Recording), decode.Options{Rate: pitch.Rate})
	if err != nil {
		return nil, err
	}
	tr, err := NewTranscriber(ref.Harp, Options{})
	if err != nil {
		return nil, err
	}
	h, err := hearOnce(tr, path, clip)
	if err != nil {
		return nil, err
	}
	how := playings{}
	how.add(tr, clip, h.Events, 0, math.Inf(1), h.Cents)
	of := map[int]int{}
	for i, j := range compare.Match(len(ref.Events), len(h.Events), func(i, j int) bool {
		return math.Abs(ref.Events[i].Start-h.Events[j].Start) <= 0.05
	}) {
		if j >= 0 {
			of[j] = i
		}
	}
	out := map[string][]cued{}
	around := how.surroundings(h.Events)
	for j, e := range h.Events {
		m, ok := how[e.Start]
		if !ok {
			continue
		}
		for name, x := range m.cuesOf(e, around[j]) {
			i, matched := of[j]
			right := false
			if matched {
				_, right = ref.Events[i].Mark(name)
			}
			if name == tab.Tongued { // asked only where the breath goes on
				if !matched {
					continue
				}
				if _, legato := ref.Events[i].Mark(tab.Legato); !legato && !right {
					continue
				}
			}
			out[name] = append(out[name], cued{x, right, tier})
		}
	}
	return out, nil
}

func TestFitCues(t *testing.T) {
	fit, _ := hearCues(t, flag.Args())
	held, total := hearCues(t, strings.Split(*judge, ","))
	names := []string{tab.Scoop, tab.Fall, tab.Dip, tab.Slap, tab.Wah, tab.HandClose, tab.HandVibrato, tab.Tongued, tab.Accent}
	for _, name := range names {
		var x [][]float64
		var right []bool
		for _, c := range fit[name] {
			if c.x != nil {
				x, right = append(x, c.x), append(right, c.right)
			}
		}
		var m cueModel
		m.constant, m.weights = fit.Fit(x, right, *ridge)
		fmt.Printf("\t%q: {%.3f, []float64{", name, m.constant)
		for i, w := range m.weights {
			if i > 0 {
				fmt.Print(", ")
			}
			fmt.Printf("%.3f", w)
		}
		fmt.Println("}},")
		for _, tier := range append(tiersHeard(held[name]), "all") {
			fmt.Printf("\t// %-8s", tier)
			for _, least := range []float64{0.4, 0.5, 0.6, 0.7} {
				found, written := 0, 0
				for _, c := range held[name] {
					if (tier == "all" || c.tier == tier) && c.x != nil && m.probability(c.x) >= least {
						written++
						if c.right {
							found++
						}
					}
				}
				p, r := float64(found)/float64(written), float64(found)/float64(total[name][tier])
				fmt.Printf("  %.1f: P %.2f R %.2f F %.2f", least, p, r, 2*float64(found)/float64(written+total[name][tier]))
			}
			fmt.Printf("  of %d\n", total[name][tier])
		}
		_, sd := fit.Moments(x)
		fmt.Print("\t// matters:")
		for i, w := range m.weights {
			fmt.Printf(" %.2f", w*sd[i])
		}
		fmt.Println()
	}
}

func tiersHeard(list []cued) []string {
	var out []string
	for _, c := range list {
		if !slices.Contains(out, c.tier) {
			out = append(out, c.tier)
		}
	}
	slices.Sort(out)
	return out
}
