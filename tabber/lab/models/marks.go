package models

import (
	"context"
	"fmt"
	"math"

	"blowdraw/pitch"
	"blowdraw/tabber"
	"blowdraw/tabber/compare"
	"blowdraw/tabber/lab/fit"
	"blowdraw/tabber/lab/truth"
	"blowdraw/tabber/playing"
	"blowdraw/tabber/reading"
	"blowdraw/tabber/tab"
)

// markNames are the marks that models decide.
var markNames = []string{
	tab.Scoop, tab.Fall, tab.Dip, tab.Slap, tab.Wah, tab.HandClose, tab.HandVibrato, tab.Tongued, tab.Accent,
}

// marks tell whether an event has a mark, by its cues; of tongued, whether the breath goes
// on tongued rather than legato. All are fitted to the same clips. What it takes for a mark
// was chosen on those that it is judged on.
func marks() fit.Model {
	m := fit.Model{
		Name:  "marks",
		Needs: []string{"played-501", "played-502", "played-503", "played-504"},
		Judge: []string{"played-601", "played-602"},
		On:    []string{ear}, After: []string{"decision", "octave", "confidence", "presence"},
		Fit: fitMarks,
	}
	for _, name := range markNames {
		f := fit.File{Name: name, Says: "log odds that the mark " + name + " is right",
			Path: "tabber/playing/models/" + name + ".json"}
		if name == tab.Tongued {
			f.Says = "log odds that a note that goes on in one breath is tongued"
		}
		m.Files = append(m.Files, f)
	}
	return m
}

// cued is the question whether an event that was heard has a mark.
type cued struct {
	mark string
	question
}

// fitMarks prints for each mark how right what is written of it is on the clips that are
// judged, and how much each cue matters.
func fitMarks(ctx context.Context, g fit.Given) ([]fit.Numbers, error) {
	all, err := fromClips(ctx, g.Folders, clip.cued)
	if err != nil {
		return nil, err
	}
	judging, err := fromClips(ctx, g.Judged, clip.cued)
	if err != nil {
		return nil, err
	}
	total, err := trueMarks(g.Judged)
	if err != nil {
		return nil, err
	}
	var out []fit.Numbers
	for _, mark := range markNames {
		asked := about(all, mark)
		if len(asked) == 0 {
			return nil, fmt.Errorf("the mark %s is out of the question everywhere", mark)
		}
		m := modelOf(asked)
		said := judged(answers(about(judging, mark), m))
		fmt.Fprintf(g.Log, "%s, on clips that it was not fitted to\n", mark)
		fit.PrintThresholds(g.Log, said, total[mark], []float64{0.4, 0.5, 0.6, 0.7})
		printMatters(g.Log, playing.Cues[mark], asked, m)
		out = append(out, numbers(m, playing.Cues[mark]))
	}
	return out, nil
}

// about a mark are the questions that ask for it.
func about(all []cued, mark string) (out []question) {
	for _, c := range all {
		if c.mark == mark {
			out = append(out, c.question)
		}
	}
	return out
}

// trueMarks counts the marks of the truths in some folders, by mark and tier.
func trueMarks(folders []string) (map[string]map[string]int, error) {
	out := map[string]map[string]int{}
	for _, name := range markNames {
		out[name] = map[string]int{}
	}
	for _, dir := range folders {
		paths, err := truth.In(dir)
		if err != nil {
			return nil, err
		}
		for _, p := range paths {
			d, tier, err := truth.ReadDocument(p)
			if err != nil {
				return nil, err
			}
			for _, e := range d.Events {
				for _, m := range e.Marks {
					if out[m.Name] != nil {
						out[m.Name][tier]++
					}
				}
			}
		}
	}
	return out, nil
}

// cued are the events of a clip's transcription with the cues of every mark that is in
// question for them. Tongued is asked of events of the truth that say how they go on.
func (c clip) cued() (out []cued, err error) {
	t, err := tabber.NewTranscriber(c.ref.Harp, tabber.Options{})
	if err != nil {
		return nil, err
	}
	r := t.Clip(c.sound)
	events := make([]playing.Shaken, len(r.Events))
	for i, e := range r.Events {
		events[i].Event = e
	}
	// Of the frames nothing is asked but where they lie.
	at := reading.Sound{Clip: c.sound, Frames: pitch.Frames{Start: c.sound.Start}}
	how := playing.Measure(c.ref.Harp, at, r.TuningCents, events, 0, math.Inf(1))
	of := make([]int, len(r.Events)) // the event of the truth, -1 for none
	for j := range of {
		of[j] = -1
	}
	for i, j := range compare.Match(len(c.ref.Events), len(r.Events), func(i, j int) bool {
		return math.Abs(c.ref.Events[i].Start-r.Events[j].Start) <= onset
	}) {
		if j >= 0 {
			of[j] = i
		}
	}
	for j, cues := range playing.CuesOf(r.Events, how) {
		for _, mark := range markNames {
			right, asked := false, mark != tab.Tongued
			if of[j] >= 0 {
				e := c.ref.Events[of[j]]
				_, right = e.Mark(mark)
				_, legato := e.Mark(tab.Legato)
				asked = asked || right || legato
			}
			if asked && cues[mark] != nil {
				q := question{cues: cues[mark], yes: right, tier: c.truth.Tier, clip: c.number}
				out = append(out, cued{mark, q})
			}
		}
	}
	return out, nil
}
