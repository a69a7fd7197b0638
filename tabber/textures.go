package tabber

import (
	"math"
	"slices"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// Reading is one answer to what sounds during an event: the likeliest reeds of one
// texture.
type Reading struct {
	Texture     string // tab.Single, tab.Double, tab.Split or tab.Chord
	Actions     []harp.Action
	Probability float64 // of the texture; those of an event add up to 1
}

// Textured is an event with its readings, likeliest first.
type Textured struct {
	tab.Event
	Readings []Reading
}

// Passage is what was heard of a clip. Cents is the tuning offset, Usual how far the
// odd partials of its notes stray, as in [partials.Signs.OctaveOdds].
type Passage struct {
	Events       []Textured
	Cents, Usual float64
}

// Textures transcribes a clip, mono at pitch.Rate, with the learned ear, and tells
// for each event on the harp how likely one note, a double stop, a split and a chord
// are.
func (t *Transcriber) Textures(c decode.Clip) Passage {
	out := Passage{Cents: math.NaN()}
	if t.opt.Tuning != nil {
		out.Cents = *t.opt.Tuning
	}
	f := t.hear(c, &out.Cents)
	spans, n, p := t.decide(c, f, always)
	var odd []float32
	for _, q := range n.asked {
		odd = append(odd, float32(q.x[oddAstray]))
	}
	if len(odd) > 0 {
		out.Usual = pitch.Percentile(odd, 0.5)
	}
	for i, confidence := range t.confidences(f, p, spans, n) {
		s := spans[i]
		if len(t.states[s.state].actions) == 0 {
			continue
		}
		x := Textured{t.event(f, p, s, confidence), t.readings(t.shares(p, s), counts(f, s), s.state)}
		out.Events = append(out.Events, x)
	}
	return out
}

var textureWords = [...]string{tab.Single, tab.Double, tab.Split, tab.Chord}

// textures is how many words there are.
const textures = len(textureWords)

// textureModel are the log odds of a texture: its bias, what the states of its kind
// have of the posterior, and the ear's count of reeds.
type textureModel struct {
	bias         [textures]float64
	share, count float64
}

// leastTextureShare keeps the logarithm of a share finite.
const leastTextureShare = 1e-3

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

// readings of a span, given the states' shares and the ear's counts. The chosen
// state is the reading of its own texture.
func (t *Transcriber) readings(share []float64, count [textures]float64, chosen int) []Reading {
	sums, best := t.byTexture(share)
	own := slices.Index(textureWords[:], tab.Texture(t.states[chosen].actions))
	best[own] = chosen
	p := learnedTexture.probabilities(sums, count)
	var out []Reading
	for k, word := range textureWords {
		r := Reading{Texture: word, Probability: p[k]}
		if best[k] > 0 {
			r.Actions = t.states[best[k]].actions
		}
		out = append(out, r)
	}
	slices.SortStableFunc(out, func(a, b Reading) int {
		switch {
		case a.Probability > b.Probability:
			return -1
		case a.Probability < b.Probability:
			return 1
		}
		return 0
	})
	return out
}

// byTexture adds up the states' shares for each texture, as logarithms, and finds
// each texture's likeliest state, 0 for none.
func (t *Transcriber) byTexture(share []float64) (sums [textures]float64, best [textures]int) {
	for i, x := range share {
		k := slices.Index(textureWords[:], tab.Texture(t.states[i].actions))
		if k < 0 {
			continue
		}
		sums[k] += x
		if best[k] == 0 || x > share[best[k]] {
			best[k] = i
		}
	}
	for k := range sums {
		sums[k] = math.Log(sums[k] + leastTextureShare)
	}
	return sums, best
}

// counts is for each texture the mean logarithm of the probability that the ear
// gives its number of reeds over the core of a span.
func counts(f pitch.Frames, s span) (out [textures]float64) {
	lo, hi := core(s)
	for k, n := range [textures]int{1, 2, 2, 3} {
		for i := lo; i < hi; i++ {
			out[k] += math.Log(clip(float64(f.Count[i][n]))) / float64(hi-lo)
		}
	}
	return out
}

// learnedTexture goes with learnedMethod, learnedOctave and the ear's weights: fit
// it again when one of them changes (texture_fit_test.go).
var learnedTexture = textureModel{
	bias:  [textures]float64{0.000, -0.225, -0.020, -2.408},
	share: 0.914, count: 0.111,
}
