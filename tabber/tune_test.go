//go:build tune

package tabber

import (
	"flag"
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/lab/score"
	"blowdraw/tabber/tab"
)

// The search for learnedMethod's numbers, over folders of clips as a whole:
//
//	go test -tags tune -run TestTune -timeout 0 ./tabber -args FOLDER ...
//
// A folder named real is scored with onsets within 0.1 s, others 0.05 s. It
// changes one number at a time and keeps what raises the mean score; it prints
// the numbers to be put into method.go.
var minutes = flag.Float64("minutes", 5, "how long to search")

type tuneClip struct {
	clip   decode.Clip
	frames pitch.Frames
	cents  float64
	ref    tab.Document
	tier   string
	onset  float64
	weight float64
}

// knobs lists the numbers that are searched, with their first steps.
func knobs(m *method) []struct {
	name string
	at   *float64
	step float64
} {
	w, p := &m.weights, &m.priors
	return []struct {
		name string
		at   *float64
		step float64
	}{
		{"sounding", &w.sounding, 0.05}, {"breath", &w.breath, 0.05}, {"count", &w.count, 0.05},
		{"lean", &w.lean, 0.2}, {"attack", &w.attack, 0.15}, {"event", &w.event, 0.1},
		{"attackFloor", &w.attackFloor, 1}, {"attackCeil", &w.attackCeil, 0.7},
		{"change", &w.moves.change, 0.4}, {"start", &w.moves.start, 0.4}, {"stop", &w.moves.stop, 0.4},
		{"breathMove", &w.moves.breath, 0.2}, {"jump", &w.moves.jump, 0.1}, {"farthest", &w.moves.farthest, 0.4},
		{"bend", &p.bend, 0.3}, {"double", &p.double, 0.4}, {"bentDouble", &p.bentDouble, 0.5},
		{"split", &p.split, 0.4}, {"rareSplit", &p.rareSplit, 0.5}, {"chord", &p.chord, 0.4},
		{"wideOctave", &p.wideOctave, 0.5}, {"bigChord", &p.bigChord, 0.4},
		{"tail.fall", &m.tail.fall, 1}, {"tail.sounding", &m.tail.sounding, 0.015}, {"tail.surely", &m.tail.surely, 3},
		{"late", &m.late, 0.02},
	}
}

func TestTune(t *testing.T) {
	clips := load(t, flag.Args())
	best := learnedMethod
	top := objective(clips, best)
	fmt.Printf("start %.4f  %s\n", top, summary(clips, best))
	scale, deadline := 1.0, time.Now().Add(time.Duration(*minutes*60)*time.Second)
	for time.Now().Before(deadline) {
		gained := false
		for i := range knobs(&best) {
			for _, sign := range []float64{1, -1} {
				for time.Now().Before(deadline) {
					try := best
					k := knobs(&try)[i]
					*k.at += sign * scale * k.step
					x := objective(clips, try)
					if x <= top+1e-5 {
						break
					}
					top, best, gained = x, try, true
					fmt.Printf("%.4f %s %.3f\n", x, k.name, *k.at)
				}
			}
		}
		if !gained {
			scale /= 2
			if scale < 0.2 {
				break
			}
		}
	}
	fmt.Printf("end %.4f  %s\n%+v\n", top, summary(clips, best), best)
}

func load(t *testing.T, folders []string) []tuneClip {
	var paths []string
	for _, dir := range folders {
		files, _ := filepath.Glob(filepath.Join(dir, "*.truth.json"))
		paths = append(paths, files...)
	}
	clips := make([]tuneClip, len(paths))
	each(len(paths), func(i int) {
		c, err := hearClip(paths[i])
		if err != nil {
			t.Error(err)
		}
		clips[i] = c
	})
	return clips
}

func hearClip(path string) (tuneClip, error) {
	ref, tier, err := score.ReadTruth(path)
	if err != nil {
		return tuneClip{}, err
	}
	c := tuneClip{ref: ref, tier: tier, onset: 0.05, weight: 1}
	if filepath.Base(filepath.Dir(path)) == "real" {
		c.onset, c.weight = 0.1, 4
	}
	clip, _, _, err := decode.Load(filepath.Join(filepath.Dir(path), ref.Recording), decode.Options{Rate: pitch.Rate})
	if err != nil {
		return c, err
	}
	tr, err := NewTranscriber(ref.Harp, Options{})
	if err != nil {
		return c, err
	}
	c.clip, c.cents = clip, math.NaN()
	c.frames = tr.hear(clip, &c.cents)
	return c, nil
}

func each(n int, f func(int)) {
	turns := make(chan bool, 2)
	var wg sync.WaitGroup
	for i := range n {
		wg.Go(func() {
			turns <- true
			f(i)
			<-turns
		})
	}
	wg.Wait()
}

// measures of every clip with a method.
func measures(clips []tuneClip, m method) []score.Measures {
	out := make([]score.Measures, len(clips))
	each(len(clips), func(i int) {
		c := clips[i]
		t := &Transcriber{harp: c.ref.Harp, method: m, states: states(c.ref.Harp, Options{}, m.priors, true)}
		l := newLattice(t.states, c.frames, m.weights)
		est := tab.Document{Harp: c.ref.Harp}
		for _, s := range t.spans(l, c.frames) {
			st := t.states[s.state]
			e := tab.Event{Start: c.frames.Time(s.from), End: c.frames.Time(s.to), Actions: st.actions, Confidence: 0.5, Texture: tab.Texture(st.actions)}
			for _, r := range st.rows {
				e.Pitches = append(e.Pitches, float64(c.frames.Axis.Base+r-pitch.RowBelow)+c.frames.Axis.Cents/100)
			}
			est.Events = append(est.Events, e)
		}
		est.Phrases = phrases(est.Events)
		out[i] = score.Compare(c.ref, est, c.onset)
	})
	return out
}

// objective weighs tiers equally.
func objective(clips []tuneClip, m method) float64 {
	sums, counts := map[string]float64{}, map[string]float64{}
	for i, x := range measures(clips, m) {
		c := clips[i]
		v := x.NoteF + 1.5*x.TabF + 0.7*x.OffsetF + 0.15*x.PhraseF
		if !math.IsNaN(x.TextureF) {
			v += 0.4 * x.TextureF
		} else {
			v += 0.4 * x.TabF
		}
		if !math.IsNaN(x.Splits) {
			v += 0.3 * x.Splits
		} else {
			v += 0.3 * x.TabF
		}
		sums[c.tier] += v * c.weight / 4.05
		counts[c.tier] += c.weight
	}
	total, n := 0.0, 0.0
	for _, tier := range tiersOf(clips) {
		total, n = total+sums[tier]/counts[tier], n+1
	}
	return total / n
}

func tiersOf(clips []tuneClip) []string {
	var out []string
	seen := map[string]bool{}
	for _, c := range clips {
		if !seen[c.tier] {
			seen[c.tier] = true
			out = append(out, c.tier)
		}
	}
	return out
}

func summary(clips []tuneClip, m method) string {
	var b strings.Builder
	ms := measures(clips, m)
	for _, tier := range tiersOf(clips) {
		n, note, tabF, off := 0.0, 0.0, 0.0, 0.0
		for i, x := range ms {
			if clips[i].tier == tier {
				n, note, tabF, off = n+1, note+x.NoteF, tabF+x.TabF, off+x.OffsetF
			}
		}
		fmt.Fprintf(&b, "\n  %-8s note %.3f tab %.3f off %.3f", tier, note/n, tabF/n, off/n)
	}
	return b.String()
}
