package models

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"blowdraw/tabber/harp/harptest"
	"blowdraw/tabber/lab/truth"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/presence"
	"blowdraw/tabber/reading"
	"blowdraw/tabber/tab"
	"blowdraw/tabber/whichharp"
)

// A fit to textures drawn from a known model finds that model.
func TestTextureOf(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	want := textureModel{bias: [textures]float64{0, -0.8, 0.5, 1.2}, share: 0.7, count: 1.5}
	all := make([]textured, 20000)
	for i := range all {
		e := &all[i]
		for k := range textures {
			e.share[k], e.count[k] = rng.NormFloat64(), rng.NormFloat64()
		}
		u := rng.Float64()
		for k, p := range want.probabilities(e.share, e.count) {
			if u -= p; u < 0 {
				e.truth = k
				break
			}
		}
	}
	got := textureOf(all)
	for k := range textures {
		if math.Abs(got.bias[k]-want.bias[k]) > 0.08 {
			t.Errorf("bias of %d is %.3f, want %.3f", k, got.bias[k], want.bias[k])
		}
	}
	if math.Abs(got.share-want.share) > 0.05 || math.Abs(got.count-want.count) > 0.05 {
		t.Errorf("%+v, want %+v", got, want)
	}
}

// The search goes over all numbers of the decision but two, and over how spans end, and
// each knob turns one number.
func TestKnobs(t *testing.T) {
	values := func(s setting) (out []float64) {
		for _, n := range lattice.Numbers() {
			out = append(out, *n.Of(&s.method))
		}
		return append(out, s.ends.Fall, s.ends.Sounding, s.ends.Surely, s.ends.Late)
	}
	before := setting{lattice.Learned(), reading.LearnedEnds()}
	turned := map[int]bool{}
	for _, k := range knobs() {
		s := before
		*k.at(&s) += k.step
		is, was := values(s), values(before)
		for i := range is {
			if is[i] != was[i] {
				turned[i] = true
				is[i] = was[i]
				break
			}
		}
		if !slices.Equal(is, was) {
			t.Errorf("%s turns several numbers", k.name)
		}
	}
	if want := len(values(before)) - 2; len(turned) != want {
		t.Errorf("%d numbers are turned, want %d", len(turned), want)
	}
}

// Who plays: the harp in its phrases and a little beyond, else who sings or speaks, else
// others.
func TestWhoPlays(t *testing.T) {
	c := clip{
		ref: tab.Document{Phrases: []tab.Phrase{{Start: 1, End: 2}}},
		truth: truth.File{Parts: []truth.Part{
			{Kind: "voice", Start: 2, End: 3}, {Kind: "speech", Start: 4, End: 5}, {Kind: "guitar", Start: 5, End: 6},
		}},
	}
	for at, want := range map[float64]presence.Kind{
		0.94: presence.Other, 0.96: presence.Harp, 2.14: presence.Harp, 2.16: presence.Voice, 3.5: presence.Other,
		4: presence.Voice, 5: presence.Other,
	} {
		if got := c.at(at); got != want {
			t.Errorf("at %g s: %d, want %d", at, got, want)
		}
	}
	c.path = "made/solo-1.truth.json"
	if off := math.Abs(c.axisOff()); off != 0 && off != axisStep {
		t.Errorf("%g cents off", off)
	}
}

// Where the right harp is always the one with fewer strange notes, these come to weigh more
// than they did.
func TestHarpWeights(t *testing.T) {
	h := harptest.Of(t, "C", "richter")
	right, wrong := whichharp.Fit{Harp: h}, whichharp.Fit{Harp: h, Strange: 0.1}
	var clips []ranked
	for range 20 {
		round := []whichharp.Cues{whichharp.CuesOf(wrong), whichharp.CuesOf(right)}
		clips = append(clips, ranked{rounds: [2][]whichharp.Cues{round, round}, right: [2]int{1, 1}})
	}
	now := whichharp.LearnedWeights()
	got := harpWeights(clips, now)
	i := slices.Index(whichharp.WeightNames, "strange")
	if got[i] >= now[i] {
		t.Errorf("strange weighs %g, was %g", got[i], now[i])
	}
	if _, p := clips[0].rank(1, got); p < 0.6 {
		t.Errorf("the right harp has the probability %g", p)
	}
	for k := range got {
		if k != i && got[k] != now[k] {
			t.Errorf("%s, which tells nothing, is %g, was %g", whichharp.WeightNames[k], got[k], now[k])
		}
	}
}
