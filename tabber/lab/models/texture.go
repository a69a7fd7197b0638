package models

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"blowdraw/decode/logistic"
	"blowdraw/tabber/lab/fit"
	"blowdraw/tabber/lab/score"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/reading"
	"blowdraw/tabber/tab"
)

// texture tells one reed, two neighbours, a split and a chord apart.
func texture() fit.Model {
	return fit.Model{
		Name: "texture",
		Files: []fit.File{{Name: "texture", Path: "tabber/reading/texture.json",
			Says: "log odds of each texture: its bias, and the weights of its share of the posterior and of " +
				"the ear's count of reeds"}},
		Needs: []string{
			"octaves-1001",
			"doubles-1001",
			"under-octaves",
			"hard-77",
			"hard-4242",
			"made-few",
			"people",
			"paired",
		},
		On: []string{ear}, After: []string{"decision", "octave"},
		Fit: fitTexture,
	}
}

const textures = 4

// textured is an event that was heard, and which texture it has, of those of
// [reading.TextureCues].
type textured struct {
	share, count [textures]float64
	truth        int
	tier         string
}

// textureModel gives each texture the log odds bias + share times its share + count times
// its count.
type textureModel struct {
	bias         [textures]float64
	share, count float64
}

// fitTexture prints for each tier the share of the textures that are right.
func fitTexture(ctx context.Context, g fit.Given) ([]fit.Numbers, error) {
	all, err := texturedEvents(ctx, g.Folders)
	if err != nil {
		return nil, err
	}
	if len(all) == 0 {
		return nil, errors.New("nothing that is written was heard")
	}
	m := textureOf(all)
	fmt.Fprintln(g.Log, "the clips of the fit")
	fit.PrintRight(g.Log, texturesJudged(all, m))
	if len(g.Judged) > 0 {
		other, err := texturedEvents(ctx, g.Judged)
		if err != nil {
			return nil, err
		}
		fmt.Fprintln(g.Log, "other clips")
		fit.PrintRight(g.Log, texturesJudged(other, m))
	}
	weights := append(m.bias[:], m.share, m.count)
	return []fit.Numbers{numbers(logistic.Model{Weights: weights}, reading.TextureCues)}, nil
}

// texturedEvents are the heard events of clips of whose time at least half is one written
// event.
func texturedEvents(ctx context.Context, folders []string) ([]textured, error) {
	return fromHeard(ctx, folders, func(h heardClip) (out []textured) {
		x := h.reader.Read(h.Sound, reading.Nothing())
		for _, s := range x.Spans {
			k := h.written(s.Span)
			if k < 0 || len(h.reader.States[s.State].Actions) == 0 {
				continue
			}
			share, count, _ := h.reader.TextureEvidence(x, s)
			out = append(out, textured{share, count, k, h.truth.Tier})
		}
		return out
	})
}

// written is the texture that a span has in truth, -1 if it has none or several.
func (h heardClip) written(s lattice.Span) int {
	from, to := h.Frames.Time(s.From), h.Frames.Time(s.To)
	for _, e := range h.ref.Events {
		if min(e.End, to)-max(e.Start, from) >= (to-from)/2 {
			return slices.Index(reading.TextureCues[:textures], tab.Texture(e.Actions))
		}
	}
	return -1
}

// probabilities of the textures, given the logarithms of shares and counts.
func (m *textureModel) probabilities(share, count [textures]float64) (p [textures]float64) {
	sum := 0.0
	for k := range p {
		p[k] = math.Exp(m.bias[k] + m.share*share[k] + m.count*count[k])
		sum += p[k]
	}
	for k := range p {
		p[k] /= sum
	}
	return p
}

// textureOf is multinomial logistic regression: the model under which the textures are
// likeliest, by gradient descent with a step that grows while it helps. The bias of single
// notes stays 0.
func textureOf(all []textured) textureModel {
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

// textureLoss is the mean negative logarithm of what a model gives the truth, and its
// slope.
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

func texturesJudged(all []textured, m textureModel) []fit.Judged {
	out := make([]fit.Judged, len(all))
	for i, e := range all {
		p := m.probabilities(e.share, e.count)
		best := 0
		for k := range p {
			if p[k] > p[best] {
				best = k
			}
		}
		out[i] = fit.Judged{Verdict: score.Verdict{Said: p[best], Right: best == e.truth}, Tier: e.tier}
	}
	return out
}
