//go:build tune

package tabber

import (
	"flag"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"blowdraw/tabber/compare"
	"blowdraw/tabber/lab/fit"
)

// The fit of learnedOctave, over folders of clips with their truth:
//
//	go test -v -tags tune -run TestFitOctave -timeout 0 ./tabber -args -judge FOLDER,... FOLDER ...
//
// It prints the numbers to be put into octave.go and, for each tier, the share of
// the questions that they answer right, on the clips of the fit by the model of the
// other half of the clips. Folders after -judge are judged by the model fitted on
// all the rest. The folders were
//
//	go run ./tabber/hardset/write -pairs -seed 1001 FOLDER    of which the octaves
//	python3 clips.py --under FOLDER --seed 1000000021 FOLDER  under octaves of seed 1002
//	go run ./tabber/hardset/write -seed N FOLDER              for N of 77 and 4242

// octaveNames of the features.
var octaveNames = [octaveFeatures]string{
	upperSounds: "upperSounds", upperAttacked: "upperAttacked", twoCounted: "twoCounted",
	evenAstray: "evenAstray", oddAstray: "oddAstray", evenMiddle: "evenMiddle", oddMiddle: "oddMiddle",
	evenLevel: "evenLevel", second: "second", usualOdd: "usualOdd", elsewhere: "elsewhere",
	ownLevel: "ownLevel",
}

// asked is a question and its answer.
type asked struct {
	x      [octaveFeatures]float64
	octave bool
	heard  bool // an octave, by the search alone
	tier   string
	clip   int
}

func TestFitOctave(t *testing.T) {
	fit := ask(t, flag.Args())
	if len(fit) == 0 {
		t.Fatal("no questions to fit: name folders of clips")
	}
	var halves [2][]asked
	for _, q := range fit {
		halves[q.clip%2] = append(halves[q.clip%2], q)
	}
	fmt.Println("held out by clip")
	printAnswers(halves[0], fitOctave(halves[1]))
	printAnswers(halves[1], fitOctave(halves[0]))
	m := fitOctave(fit)
	if *judge != "" {
		fmt.Println("other clips, fitted on all of the above")
		printAnswers(ask(t, strings.Split(*judge, ",")), m)
	}
	fmt.Printf("\nvar learnedOctave = octaveModel{\n\tconstant: %.3f,\n\tweight: [octaveFeatures]float64{\n", m.constant)
	for i, w := range m.weight {
		fmt.Printf("\t\t%s: %.3f,\n", octaveNames[i], w)
	}
	fmt.Println("\t},\n}")
	printAlone(fit)
}

// printAlone prints the numbers of [partials.Signs.OctaveOdds]: the fit with what the
// sound alone tells.
func printAlone(all []asked) {
	x, y := make([][]float64, len(all)), make([]bool, len(all))
	told := []octaveFeature{evenAstray, oddAstray, evenMiddle, oddMiddle, evenLevel, second, usualOdd}
	for i, q := range all {
		for _, k := range told {
			x[i] = append(x[i], q.x[k])
		}
		y[i] = q.octave
	}
	constant, weight := fit.Fit(x, y, *ridge)
	fmt.Printf("\nby the sound alone: %.3f", constant)
	for i, k := range told {
		fmt.Printf(" %+.3f %s", weight[i], octaveNames[k])
	}
	fmt.Println()
}

func fitOctave(all []asked) octaveModel {
	x, y := make([][]float64, len(all)), make([]bool, len(all))
	for i := range all {
		x[i], y[i] = all[i].x[:], all[i].octave
	}
	var m octaveModel
	var weight []float64
	m.constant, weight = fit.Fit(x, y, *ridge)
	copy(m.weight[:], weight)
	return m
}

// ask about the heard spans that stand for a written note or octave.
func ask(t *testing.T, folders []string) []asked { return askClips(t, load(t, folders)) }

func askClips(t *testing.T, clips []tuneClip) []asked {
	parts := make([][]asked, len(clips))
	each(len(clips), func(i int) {
		c := clips[i]
		tr, err := NewTranscriber(c.ref.Harp, Options{})
		if err != nil {
			t.Error(err)
			return
		}
		spans := tr.spans(newLattice(tr.states, c.frames, tr.method.weights), c.frames)
		posed, _ := tr.questions(c.clip, c.frames, spans, always)
		for _, q := range posed {
			if octave, ok := answer(c, tr, spans[q.span], q); ok {
				parts[i] = append(parts[i], asked{q.x, octave, spans[q.span].state == q.both, c.tier, i})
			}
		}
	})
	return slices.Concat(parts...)
}

// answer tells whether a question's note is an octave; false if it is neither an
// octave nor its lower reed alone.
func answer(c tuneClip, t *Transcriber, s span, q question) (octave, ok bool) {
	for _, e := range c.ref.Events {
		if math.Abs(e.Start-c.frames.Time(s.from)) > c.onset || c.frames.Time(s.to) < (e.Start+e.End)/2 {
			continue
		}
		single := compare.SameTab(c.ref.Harp, e.Actions, t.states[q.low].actions)
		octave := compare.SameTab(c.ref.Harp, e.Actions, t.states[q.both].actions)
		if single != octave {
			return octave, true
		}
	}
	return false, false
}

// printAnswers prints for each tier: octaves and single notes, the share of each
// that the search alone gets right, and that the model gets right.
func printAnswers(all []asked, m octaveModel) {
	type tally struct{ n, searched, modelled [2]float64 }
	tiers := map[string]*tally{}
	var names []string
	for _, q := range all {
		for _, name := range []string{q.tier, "every"} {
			if tiers[name] == nil {
				tiers[name] = &tally{}
				names = append(names, name)
			}
			v, k := tiers[name], 0
			if q.octave {
				k = 1
			}
			v.n[k]++
			if q.heard == q.octave {
				v.searched[k]++
			}
			if (m.odds(q.x) > 0) == q.octave {
				v.modelled[k]++
			}
		}
	}
	slices.Sort(names)
	fmt.Printf("%-12s%8s%10s%10s%8s%10s%10s\n", "tier", "single", "searched", "modelled", "octave", "searched", "modelled")
	for _, name := range names {
		v := tiers[name]
		fmt.Printf("%-12s", name)
		for k := range 2 {
			fmt.Printf("%8.0f%10.3f%10.3f", v.n[k], v.searched[k]/v.n[k], v.modelled[k]/v.n[k])
		}
		fmt.Println()
	}
}
