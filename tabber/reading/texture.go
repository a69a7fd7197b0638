package reading

import (
	_ "embed"
	"math"
	"slices"

	"blowdraw/decode/logistic"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/tab"
)

// Answer is one answer to what sounds during an event: the likeliest reeds of one
// texture.
type Answer struct {
	Texture     string // tab.Single, tab.Double, tab.Split or tab.Chord
	Actions     []harp.Action
	Probability float64 // of the texture; those of an event add up to 1
}

// Textured is an event with its answers, likeliest first.
type Textured struct {
	tab.Event
	Answers []Answer
}

var textureWords = [...]string{tab.Single, tab.Double, tab.Split, tab.Chord}

// textures is how many words there are.
const textures = len(textureWords)

// TextureCues names the numbers of the textures' model: a bias for each texture, what
// the states of its kind have of the posterior, and the ear's count of reeds.
var TextureCues = []string{tab.Single, tab.Double, tab.Split, tab.Chord, "share", "count"}

//go:embed texture.json
var textureFile []byte

// textureModel is a multinomial logistic model: the log odds of a texture are its bias
// and the weights of its own share and count. It is fitted by blowdraw-lab fit texture,
// again when the ear's weights or the lattice's method change.
type textureModel struct {
	bias         [textures]float64
	share, count float64
}

func learnedTexture() textureModel {
	w := logistic.MustRead(textureFile, TextureCues).Weights
	return textureModel{bias: [textures]float64(w[:textures]), share: w[textures], count: w[textures+1]}
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

// Textures are the events of a reading on the harp, with how likely one note, a double
// stop, a split and a chord are.
func (r Reader) Textures(x Reading) []Textured {
	var out []Textured
	for i, s := range x.Spans {
		if len(r.States[s.State].Actions) > 0 {
			out = append(out, Textured{r.Event(x, i), r.answers(x, s)})
		}
	}
	return out
}

// answers of a span. The chosen state is the answer of its own texture.
func (r Reader) answers(x Reading, s Span) []Answer {
	share, count, best := r.TextureEvidence(x, s)
	own := slices.Index(textureWords[:], tab.Texture(r.States[s.State].Actions))
	best[own] = s.State
	p := r.models.texture.probabilities(share, count)
	var out []Answer
	for k, word := range textureWords {
		a := Answer{Texture: word, Probability: p[k]}
		if best[k] > 0 {
			a.Actions = r.States[best[k]].Actions
		}
		out = append(out, a)
	}
	slices.SortStableFunc(out, func(a, b Answer) int {
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

// TextureEvidence is for each texture of a span, in the order of TextureCues, the
// logarithm of what its states share of the posterior, the mean logarithm of the
// probability that the ear gives its number of reeds, and its likeliest state, 0 for none.
func (r Reader) TextureEvidence(x Reading, s Span) (share, count [textures]float64, best [textures]int) {
	shares := r.Shares(x.Posterior, s)
	for i, v := range shares {
		k := slices.Index(textureWords[:], tab.Texture(r.States[i].Actions))
		if k < 0 {
			continue
		}
		share[k] += v
		if best[k] == 0 || v > shares[best[k]] {
			best[k] = i
		}
	}
	for k := range share {
		share[k] = math.Log(share[k] + leastTextureShare)
	}
	return share, counts(x.Frames, s.Span), best
}

// counts is for each texture the mean logarithm of the probability that the ear
// gives its number of reeds over the core of a span.
func counts(f pitch.Frames, s lattice.Span) (out [textures]float64) {
	lo, hi := core(s)
	for k, n := range [textures]int{1, 2, 2, 3} {
		for i := lo; i < hi; i++ {
			out[k] += math.Log(lattice.Clip(float64(f.Count[i][n]))) / float64(hi-lo)
		}
	}
	return out
}

// Passage is what was heard of a clip. Cents is the tuning offset, Usual how far the
// odd partials of its notes stray, as in [partials.Signs.OctaveOdds].
type Passage struct {
	Events       []Textured
	Cents, Usual float64
}
