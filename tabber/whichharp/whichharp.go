// Package whichharp tells from the sound which harp is played.
//
// Candidates are the twelve keys in three octave ranges and the built-in layouts.
// Each is listened for on its own rows, as a transcription would, and weighed by
// how well it explains what the ear hears ([Fit]): whether notes, bends,
// chords and splits exist on it, whether its reeds are in tune with one another,
// and whether players would play so on it in some position (usage.go). A
// conditional logit model (McFadden 1974, "Conditional logit analysis of
// qualitative choice behavior") makes probabilities of it. Candidates fall out in
// rounds of ever longer listening (successive halving: Karnin, Koren & Somekh
// 2013, "Almost optimal exploration in multi-armed bandits").
package whichharp

import (
	"cmp"
	"context"
	"math"
	"slices"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/hearing"
	"blowdraw/tabber/lattice"
	"blowdraw/tabber/reading"
	"blowdraw/tabber/tab"

	"gonum.org/v1/gonum/floats"
)

// Candidate is a harp that may have been played.
type Candidate struct {
	Harp        harp.Harp
	Probability float64
	Positions   []Position // likeliest first; the probabilities sum to 1
	Fit         Fit        // on the longest stretch that it was listened for on
}

// Position is a position that a harp may be played in.
type Position struct {
	Number      int // 1 to 12
	Probability float64
}

// SongKey is the song's likeliest key, a pitch class.
func (c Candidate) SongKey() int { return harp.SongKey(c.Harp.Key(), c.Positions[0].Number) }

// AnyKey is the song key of which nothing is known.
const AnyKey = -1

// Options narrow the search.
type Options struct {
	SongKey int          // pitch class of the song, or AnyKey
	Layout  *harp.Layout // of the harp; nil for the common one and, where they explain more, the other built-in ones
}

// Ranking is what a stretch of sound says of the harp.
type Ranking struct {
	Candidates []Candidate    // likeliest first; the probabilities sum to 1
	Sound      hearing.Tuning // offset of all that sounds, band included
	Tuning     hearing.Tuning // offset by the best harp's reeds and by all that sounds
}

// How long is listened in each round, in seconds with sound, and how many
// candidates of the first go on to the second.
const (
	firstSeconds  = 6.0
	secondSeconds = 24.0
	finalists     = 5
)

// Ranker ranks harps. It holds the ear, and can be used again and again.
type Ranker struct {
	ear    hearing.Ear
	reader reading.Reader
}

// New loads the ear.
func New() (*Ranker, error) {
	e, err := hearing.Learned()
	if err != nil {
		return nil, err
	}
	return &Ranker{e, reading.New(candidates(harp.Layouts()[0])[0], lattice.Choice{Several: true})}, nil
}

// candidates of the first round: every key and octave range of a layout.
func candidates(l harp.Layout) []harp.Harp {
	var out []harp.Harp
	for _, octave := range []string{"", "low ", "high "} {
		for key := range 12 {
			h, err := harp.Parse(octave+harp.KeyName(key), l)
			if err != nil {
				panic(err) // the names are the package's own
			}
			out = append(out, h)
		}
	}
	return out
}

// Rank the harps for a clip, mono at pitch.Rate. Without any sound there are no
// candidates. When the context is done it stops with the context's error.
func (r *Ranker) Rank(ctx context.Context, c decode.Clip, opt Options) (Ranking, error) {
	var out Ranking
	s, err := r.search(ctx, c, opt)
	if err != nil || s.first == nil {
		return out, err
	}
	// What falls out in the first round keeps its probability.
	left := 0.0
	for _, f := range s.first[:finalists] {
		left += f.Probability
	}
	for i := range s.second {
		s.second[i].Probability *= left
	}
	out.Sound = hearing.Tuning{Cents: s.cents, Error: s.err}
	out.Candidates = append(s.second, s.first[finalists:]...)
	sortCandidates(out.Candidates)
	out.Tuning = together(out.Candidates[0].Fit.Tuning, out.Sound)
	return out, nil
}

// search is what both rounds heard.
type search struct {
	cents, err    float64     // of all that sounds, from concert pitch
	short, long   decode.Clip // what the rounds listened to
	first, second []Candidate // likeliest first; those of the second led the first
}

// search listens in rounds. Without any sound there are no candidates.
func (r *Ranker) search(ctx context.Context, c decode.Clip, opt Options) (search, error) {
	var s search
	s.cents, s.err = pitch.Offset(c.Samples)
	if math.IsNaN(s.cents) {
		return s, nil
	}
	active := r.activity(c, s.cents, r.reader.Harp)
	s.short = excerpt(c, active, firstSeconds)
	s.long = excerpt(c, active, secondSeconds)
	layout := harp.Layouts()[0]
	if opt.Layout != nil {
		layout = *opt.Layout
	}
	fits, err := r.listen(ctx, s.short, s.cents, candidates(layout))
	if err != nil {
		return s, err
	}
	if opt.Layout == nil {
		promising := bestOf(fewerStrange(fits), layoutsHeard, opt)
		more, err := r.listen(ctx, s.short, s.cents, promising)
		if err != nil {
			return s, err
		}
		fits = append(fits, more...)
	}
	s.first = rank(fits, opt)
	if fits, err = r.listen(ctx, s.long, s.cents, harpsOf(s.first[:finalists])); err != nil {
		return s, err
	}
	if opt.Layout == nil {
		fits = withLayouts(fits)
	}
	s.second = rank(fits, opt)
	return s, nil
}

const (
	leastGain    = 0.2 // seconds of strange notes by which a layout must be better to be listened for
	layoutsHeard = 4
)

// fewerStrange reads what was heard anew on the other layouts, and returns those
// fits that have fewer strange notes.
func fewerStrange(fits []Fit) []Fit {
	var out []Fit
	for _, f := range fits {
		for _, l := range harp.Layouts()[1:] {
			if other := reread(f, harp.Harp{Name: f.Harp.Name, Base: f.Harp.Base, Layout: l}); other.Strange < f.Strange-leastGain {
				out = append(out, other)
			}
		}
	}
	return out
}

// bestOf are the harps of the n best fits.
func bestOf(fits []Fit, n int, opt Options) []harp.Harp {
	return harpsOf(rank(fits, opt)[:min(n, len(fits))])
}

func harpsOf(candidates []Candidate) []harp.Harp {
	var out []harp.Harp
	for _, c := range candidates {
		out = append(out, c.Harp)
	}
	return out
}

// withLayouts adds to the fits of the common layout what they are on the others
// that were not listened for: a harp whose special reeds are not played can't be
// told from a common one.
func withLayouts(fits []Fit) []Fit {
	out := slices.Clone(fits)
	for _, f := range fits {
		if !f.Harp.Layout.Equal(harp.Layouts()[0]) {
			continue
		}
		for _, l := range harp.Layouts()[1:] {
			h := harp.Harp{Name: f.Harp.Name, Base: f.Harp.Base, Layout: l}
			if !slices.ContainsFunc(fits, func(g Fit) bool { return same(g.Harp, h) }) {
				out = append(out, reread(f, h))
			}
		}
	}
	return out
}

// reread is a fit with the same notes on another harp, by the same actions where
// it has them.
func reread(f Fit, h harp.Harp) Fit {
	from := f.Harp
	f.Harp, f.Strange = h, 0
	f.Events = slices.Clone(f.Events)
	for i := range f.Events {
		e := &f.Events[i]
		midi := notes(f, *e)
		was := e.Actions
		e.Actions = nil
		for k, n := range midi {
			at := h.At(h.Base+n, false)
			switch {
			case k < len(was) && h.Base == from.Base && slices.Contains(at, was[k]):
				e.Actions = append(e.Actions, was[k])
			case len(at) > 0:
				e.Actions = append(e.Actions, at[0])
			}
		}
		if len(e.Actions) < len(midi) {
			e.Actions = nil
			f.Strange += e.End - e.Start
		}
		e.Texture = tab.Texture(e.Actions)
	}
	return f
}

// listen for each of the harps.
func (r *Ranker) listen(ctx context.Context, c decode.Clip, cents float64, harps []harp.Harp) ([]Fit, error) {
	var fits []Fit
	for _, h := range harps {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		fits = append(fits, r.fit(c, cents, h))
	}
	return fits, nil
}

// rank makes candidates of fits; their probabilities sum to 1.
func rank(fits []Fit, opt Options) []Candidate {
	var out []Candidate
	var scores []float64
	for _, f := range fits {
		score, positions := fitted.weigh(CuesOf(f), opt.SongKey)
		out = append(out, Candidate{Harp: f.Harp, Positions: positions, Fit: f})
		scores = append(scores, score)
	}
	for i, p := range softmax(scores) {
		out[i].Probability = p
	}
	sortCandidates(out)
	return out
}

func sortCandidates(c []Candidate) {
	slices.SortStableFunc(c, func(a, b Candidate) int { return cmp.Compare(b.Probability, a.Probability) })
}

// together is the mean of the harp's own tuning and that of all that sounds, by
// their errors, if they agree; else the harp's. Of all that sounds it is not
// known whether the reeds are equal tempered.
func together(own, sound hearing.Tuning) hearing.Tuning {
	const temperament = 4 // cents, standard error from a temperament unknown
	err := math.Hypot(sound.Error, temperament)
	apart := sound.Cents - own.Cents
	apart -= 100 * math.Round(apart/100)
	if math.Abs(apart) > 2*math.Hypot(own.Error, err) {
		return own
	}
	a, b := 1/(own.Error*own.Error), 1/(err*err)
	own.Cents += apart * b / (a + b)
	own.Error = 1 / math.Sqrt(a+b)
	return own
}

// softmax makes probabilities of log weights; of none there are none.
func softmax(x []float64) []float64 {
	if len(x) == 0 {
		return nil
	}
	out := make([]float64, len(x))
	total := floats.LogSumExp(x)
	for i, v := range x {
		out[i] = math.Exp(v - total)
	}
	return out
}
