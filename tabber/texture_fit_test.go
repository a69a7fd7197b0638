//go:build tune

package tabber

import (
	"flag"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"blowdraw/tabber/tab"
)

// The fit of learnedTexture, over folders of clips with their truth:
//
//	go test -v -tags tune -run TestFitTexture -timeout 0 ./tabber -args -judge FOLDER,... FOLDER ...
//
// It prints the numbers to be put into textures.go and, for each tier, how many
// textures are right and the expected calibration error; folders after -judge are
// not fitted on. The folders were those of octave_fit_test.go, double stops of the
// same pairs, and 4 clips a tier of clips.py.

// textured is an event that was heard, and which texture it has.
type textured struct {
	share, count [textures]float64
	truth        int
	tier         string
}

func TestFitTexture(t *testing.T) {
	fit := texturedEvents(t, load(t, flag.Args()))
	if len(fit) == 0 {
		t.Fatal("no events to fit: name folders of clips")
	}
	m := fitTexture(fit)
	fmt.Println("the clips of the fit")
	printTextures(fit, m)
	if *judge != "" {
		fmt.Println("other clips")
		printTextures(texturedEvents(t, load(t, strings.Split(*judge, ","))), m)
	}
	fmt.Printf("\nvar learnedTexture = textureModel{\n\tbias: [textures]float64{%.3f, %.3f, %.3f, %.3f},\n\tshare: %.3f, count: %.3f,\n}\n",
		m.bias[0], m.bias[1], m.bias[2], m.bias[3], m.share, m.count)
}

// texturedEvents are the heard events of clips of whose time at least half is one
// written event.
func texturedEvents(t *testing.T, clips []tuneClip) []textured {
	parts := make([][]textured, len(clips))
	each(len(clips), func(i int) {
		c := clips[i]
		tr, err := NewTranscriber(c.ref.Harp, Options{})
		if err != nil {
			t.Error(err)
			return
		}
		l := newLattice(tr.states, c.frames, tr.method.weights)
		spans := tr.spans(l, c.frames)
		tr.octaves(c.clip, c.frames, spans, always)
		p := l.posterior()
		for _, s := range spans {
			k := written(c, s)
			if k < 0 || len(tr.states[s.state].actions) == 0 {
				continue
			}
			share, _ := tr.byTexture(tr.shares(p, s))
			parts[i] = append(parts[i], textured{share, counts(c.frames, s), k, c.tier})
		}
	})
	return slices.Concat(parts...)
}

// written is the texture that a span has in truth, -1 if it has none or several.
func written(c tuneClip, s span) int {
	from, to := c.frames.Time(s.from), c.frames.Time(s.to)
	for _, e := range c.ref.Events {
		if min(e.End, to)-max(e.Start, from) >= (to-from)/2 {
			return slices.Index(textureWords[:], tab.Texture(e.Actions))
		}
	}
	return -1
}

// fitTexture is multinomial logistic regression: the model under which the textures
// are likeliest, by gradient descent with a step that grows while it helps. The bias
// of single notes stays 0.
func fitTexture(all []textured) textureModel {
	m := textureModel{share: 1}
	loss, slope := textureLoss(all, m)
	for step := 1.0; step > 1e-9; {
		try := m
		for k := 1; k < textures; k++ {
			try.bias[k] -= step * slope.bias[k]
		}
		try.share -= step * slope.share
		try.count -= step * slope.count
		if l, s := textureLoss(all, try); l < loss {
			m, loss, slope, step = try, l, s, 1.3*step
		} else {
			step /= 2
		}
	}
	return m
}

// textureLoss is the mean negative logarithm of what a model gives the truth, and
// its slope.
func textureLoss(all []textured, m textureModel) (loss float64, slope textureModel) {
	n := float64(len(all))
	for _, e := range all {
		p := m.probabilities(e.share, e.count)
		loss -= math.Log(p[e.truth]) / n
		p[e.truth]--
		for k, off := range p {
			slope.bias[k] += off / n
			slope.share += off * e.share[k] / n
			slope.count += off * e.count[k] / n
		}
	}
	return loss, slope
}

func printTextures(all []textured, m textureModel) {
	tiers := map[string][]verdict{}
	var names []string
	for _, e := range all {
		p := m.probabilities(e.share, e.count)
		best := 0
		for k := range p {
			if p[k] > p[best] {
				best = k
			}
		}
		for _, name := range []string{e.tier, "every"} {
			if tiers[name] == nil {
				names = append(names, name)
			}
			tiers[name] = append(tiers[name], verdict{judged{right: best == e.truth}, p[best]})
		}
	}
	slices.Sort(names)
	fmt.Printf("%-12s%8s%8s%8s\n", "tier", "events", "right", "ECE")
	for _, name := range names {
		vs := tiers[name]
		right, _ := rightOf(vs, 0, 2)
		fmt.Printf("%-12s%8d%8.3f%8.3f\n", name, len(vs), right, calibrationError(vs))
	}
}
