//go:build tune

package tabber

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"blowdraw/tabber/compare"
	"blowdraw/tabber/lab/fit"
	"blowdraw/tabber/tab"
)

// The fit of learnedCalibration, over folders of clips with their truth:
//
//	go test -v -tags tune -run TestCalibrate -timeout 0 ./tabber -args FOLDER ...
//
// It prints the numbers to be put into confidence.go, and for each tier how
// well calibrated the model is on clips that it was not fitted on: clips are
// split into two halves, each judged by the model fitted on the other. Folders
// after -judge are judged by the model fitted on all the rest. The folders were
//
//	go run ./tabber/hardset/write -seed N FOLDER    for N of 1, 77 and 4242, and with pitch/ear/train/clips.py
//	python3 clips.py --count 20 --seed 1000000007 FOLDER
//	python3 clips.py --under FOLDER-OF-SEED-4242 --seed 1000000021 FOLDER
var (
	ridge = flag.Float64("ridge", 1, "weight of the squared coefficients of standardised features against one event")
	judge = flag.String("judge", "", "folders, separated by commas, that are judged only")
)

// names of the features.
var names = [features]string{
	begins: "begins", counted: "counted", attacked: "attacked", companion: "companion",
	offPitch: "offPitch", length: "length", unsure: "unsure",
}

// judged is an event that was heard, and whether it is right.
type judged struct {
	x     [features]float64
	right bool
	tier  string
	clip  int
}

func TestCalibrate(t *testing.T) {
	fit := listen(t, flag.Args())
	if len(fit) == 0 {
		t.Fatal("no events to fit: name folders of clips")
	}
	model := fitted(fit, *ridge)
	halves := [2][]judged{}
	for _, e := range fit {
		halves[e.clip%2] = append(halves[e.clip%2], e)
	}
	var held []verdict
	for i, half := range halves {
		held = append(held, verdicts(half, fitted(halves[1-i], *ridge))...)
	}
	fmt.Println("the numbers in confidence.go")
	table(verdicts(fit, learnedCalibration))
	fmt.Println("held out by clip")
	table(held)
	if *judge != "" {
		fmt.Println("other clips, fitted on all of the above")
		table(verdicts(listen(t, strings.Split(*judge, ",")), model))
	}
	fmt.Printf("\nvar learnedCalibration = calibration{\n\tconstant: %.3f,\n\tweight: [features]float64{\n", model.constant)
	for i, w := range model.weight {
		fmt.Printf("\t\t%s: %.3f,\n", names[i], w)
	}
	fmt.Println("\t},\n}")
	fmt.Println("\nhow much each matters: weight times the feature's standard deviation")
	_, sd := fit.Moments(rows(fit))
	for i := range sd {
		fmt.Printf("%-12s%7.3f\n", names[i], model.weight[i]*sd[i])
	}
}

// listen hears the clips of the folders as the program does.
func listen(t *testing.T, folders []string) []judged {
	clips := load(t, folders)
	parts := make([][]judged, len(clips))
	each(len(clips), func(i int) {
		c := clips[i]
		tr, err := NewTranscriber(c.ref.Harp, Options{})
		if err != nil {
			t.Error(err)
			return
		}
		parts[i] = judgeClip(tr, c, i)
	})
	return slices.Concat(parts...)
}

func judgeClip(t *Transcriber, c tuneClip, number int) []judged {
	l := newLattice(t.states, c.frames, t.method.weights)
	spans := t.spans(l, c.frames)
	if len(spans) == 0 {
		return nil
	}
	right := map[int]bool{}
	ref := c.ref.Events
	for _, j := range compare.Match(len(ref), len(spans), func(i, j int) bool {
		late := math.Abs(ref[i].Start - c.frames.Time(spans[j].from))
		return math.RoundToEven(1e4*late)/1e4 <= c.onset && compare.SameTab(c.ref.Harp, ref[i].Actions, t.states[spans[j].state].actions)
	}) {
		right[j] = true
	}
	var out []judged
	for j, x := range t.features(c.frames, l.posterior(), spans, t.nearby(c.clip, c.frames, slices.Clone(spans), always)) {
		mid := (c.frames.Time(spans[j].from) + c.frames.Time(spans[j].to)) / 2
		if len(t.states[spans[j].state].actions) > 0 && near(c.ref.Phrases, mid) {
			out = append(out, judged{x, right[j], c.tier, number})
		}
	}
	return out
}

// near tells whether a time lies in a phrase or within a second of one: what is
// heard elsewhere, where others play, is not a matter of confidence but of
// package presence.
func near(phrases []tab.Phrase, at float64) bool {
	return len(phrases) == 0 || slices.ContainsFunc(phrases, func(p tab.Phrase) bool { return at > p.Start-1 && at < p.End+1 })
}

// fitted is the calibration that the events make likeliest.
func fitted(events []judged, ridge float64) calibration {
	var right []bool
	for _, e := range events {
		right = append(right, e.right)
	}
	var model calibration
	constant, weights := fit.Fit(rows(events), right, ridge)
	model.constant = constant
	copy(model.weight[:], weights)
	return model
}

func rows(events []judged) [][]float64 {
	var out [][]float64
	for _, e := range events {
		out = append(out, e.x[:])
	}
	return out
}

// verdict is a stated confidence and what it was about.
type verdict struct {
	judged
	p float64
}

func verdicts(events []judged, m calibration) []verdict {
	out := make([]verdict, len(events))
	for i, e := range events {
		out[i] = verdict{e, m.probability(e.x)}
	}
	return out
}

// table prints for each tier: events, the share that is right, of those with
// confidence 0.9 or more the share that is right (p90) and their share of all
// (c90), of those with 0.8 to 0.9 and 0.5 to 0.8 the share right, and the
// expected calibration error in ten bins.
func table(all []verdict) {
	fmt.Printf("%-12s%8s%8s%8s%8s%8s%8s%8s\n", "tier", "events", "right", "p90", "c90", "p80", "p50", "ECE")
	tiers := map[string][]verdict{}
	var kinds []string
	for _, v := range all {
		kind := "all solo"
		if strings.HasPrefix(v.tier, "band") {
			kind = "all band"
		}
		for _, name := range []string{v.tier, kind, "every"} {
			if tiers[name] == nil {
				kinds = append(kinds, name)
			}
			tiers[name] = append(tiers[name], v)
		}
	}
	slices.Sort(kinds)
	for _, name := range kinds {
		vs := tiers[name]
		right, _ := rightOf(vs, 0, 2)
		p90, n90 := rightOf(vs, 0.9, 2)
		p80, _ := rightOf(vs, 0.8, 0.9)
		p50, _ := rightOf(vs, 0.5, 0.8)
		fmt.Printf("%-12s%8d%8.3f%8.3f%8.3f%8.3f%8.3f%8.3f\n", name, len(vs), right, p90, float64(n90)/float64(len(vs)), p80, p50, calibrationError(vs))
	}
}

// rightOf is the share that is right of the verdicts with confidence in [lo,
// hi), and how many they are.
func rightOf(vs []verdict, lo, hi float64) (share float64, n int) {
	right := 0
	for _, v := range vs {
		if v.p >= lo && v.p < hi {
			n++
			if v.right {
				right++
			}
		}
	}
	return float64(right) / float64(n), n
}

// calibrationError is the expected calibration error over ten bins of equal
// width (Guo et al. 2017).
func calibrationError(vs []verdict) float64 {
	var n, stated, right [10]float64
	for _, v := range vs {
		k := min(int(10*v.p), 9)
		n[k]++
		stated[k] += v.p
		if v.right {
			right[k]++
		}
	}
	sum := 0.0
	for k := range n {
		sum += math.Abs(stated[k]-right[k]) / float64(len(vs))
	}
	return sum
}

// A fit of events drawn from a known model finds that model.
func TestFitted(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	want := calibration{constant: 0.7, weight: [features]float64{begins: 0.5, counted: -1.2, length: 2}}
	events := make([]judged, 40000)
	for i := range events {
		x := &events[i].x
		x[begins], x[counted], x[length], x[unsure] = 3*rng.NormFloat64()+2, rng.NormFloat64(), 0.5*rng.NormFloat64(), rng.NormFloat64()
		events[i].right = rng.Float64() < want.probability(*x)
	}
	got := fitted(events, 1)
	if math.Abs(got.constant-want.constant) > 0.08 {
		t.Errorf("constant %.3f, want %.3f", got.constant, want.constant)
	}
	for i := range want.weight {
		if math.Abs(got.weight[i]-want.weight[i]) > 0.08 {
			t.Errorf("%s: %.3f, want %.3f", names[i], got.weight[i], want.weight[i])
		}
	}
	vs := verdicts(events, got)
	if e := calibrationError(vs); e > 0.01 {
		t.Errorf("expected calibration error %.3f on data of the model's own kind", e)
	}
	if e := calibrationError([]verdict{{p: 0.95, judged: judged{right: true}}, {p: 0.95}, {p: 0.2}, {p: 0.3}}); math.Abs(e-(0.9+0.2+0.3)/4) > 1e-12 {
		t.Errorf("expected calibration error %.3f, want 0.35", e)
	}
}
