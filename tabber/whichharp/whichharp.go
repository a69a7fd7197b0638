// Package whichharp tells from the sound which harp is played.
//
// Candidates are the twelve keys in three octave ranges and the built-in layouts.
// Each is weighed by how well it explains what the ear hears ([Fit]): whether notes,
// bends, chords and splits exist on it, whether its reeds are in tune with one another,
// and whether players would play so on it in some position (usage.go). A
// conditional logit model (McFadden 1974, "Conditional logit analysis of
// qualitative choice behavior") makes probabilities of it. Candidates fall out in
// rounds of ever closer listening (successive halving: Karnin, Koren & Somekh
// 2013, "Almost optimal exploration in multi-armed bandits"): all are looked up in one
// hearing on the rows of a single harp (lookup.go), first by the evidence alone, then
// note by note; the last ones are listened for on their own rows, as a transcription
// would.
package whichharp

import (
	"cmp"
	"context"
	"math"
	"slices"

	"blowdraw/decode"
	"blowdraw/decode/parallel"
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

	Progress func(share float64) // is told which share of the listening is done; may be nil
}

// Ranking is what a stretch of sound says of the harp.
type Ranking struct {
	Candidates []Candidate    // likeliest first; the probabilities sum to 1
	Sound      hearing.Tuning // offset of all that sounds, band included
	Tuning     hearing.Tuning // offset by the best harp's reeds and by all that sounds
}

const (
	loudShare    = 0.75  // of the clip's seconds, the loudest, that are listened to at all
	heardSeconds = 10.0  // of these, with sound, that are weighed
	promising    = 14    // candidates that are looked up note by note, at most,
	hopeless     = 0.001 // if they are likelier than this by the evidence
	finalists    = 3     // candidates that are listened for at most,
	settled      = 0.995 // as long as the right one is not among them with this probability
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
	s, err := parallel.Await(ctx, func() (search, error) { return r.search(ctx, c, opt) })
	if err != nil || s.first == nil {
		return out, err
	}
	out.Sound = hearing.Tuning{Cents: s.cents, Error: s.err}
	out.Candidates = sharing(sharing(s.glanced, s.first), s.second)
	out.Tuning = together(out.Candidates[0].Fit.Tuning, out.Sound)
	return out, nil
}

// sharing puts into a ranking what a closer round says of some of its candidates, and of
// their other layouts: they share what probability they had. The others keep theirs.
func sharing(all, some []Candidate) []Candidate {
	left := 0.0
	var out []Candidate
	for _, c := range all {
		if has(some, c.Harp) {
			left += c.Probability
		} else {
			out = append(out, c)
		}
	}
	for _, c := range some {
		c.Probability *= left
		out = append(out, c)
	}
	sortCandidates(out)
	return out
}

func has(candidates []Candidate, h harp.Harp) bool {
	return slices.ContainsFunc(candidates, func(c Candidate) bool { return same(c.Harp, h) })
}

// search is what the rounds heard.
type search struct {
	cents, err float64      // of all that sounds, from concert pitch
	heard      pitch.Frames // of the clip's liveliest blocks, on the rows of one harp
	long       decode.Clip  // these blocks
	// Likeliest first: by the evidence, note by note, listened for; the leaders of each go
	// on to the next.
	glanced, first, second []Candidate
}

// search listens in rounds. Without any sound there are no candidates.
func (r *Ranker) search(ctx context.Context, c decode.Clip, opt Options) (search, error) {
	var s search
	s.cents, s.err = pitch.Offset(c.Samples)
	if math.IsNaN(s.cents) {
		return s, ctx.Err()
	}
	layout := harp.Layouts()[0]
	if opt.Layout != nil {
		layout = *opt.Layout
	}
	all := candidates(layout)
	told := opt.steps(ctx)
	told()
	c = excerpt(c, loud(c.Samples, loudShare, heardSeconds))
	heard := r.ear.Listener(all[0], c)(s.cents)
	told()
	at := liveliest(len(c.Samples), activity(heard), heardSeconds)
	s.heard, s.long = blocksOf(heard, at), excerpt(c, at)
	s.glanced = rank(r.glance(s.heard, all), opt)
	fits, err := r.lookUp(ctx, s.heard, harpsOf(likely(s.glanced)))
	if err != nil {
		return s, err
	}
	if opt.Layout == nil {
		others := bestOf(fewerStrange(fits), layoutsHeard, opt)
		more, err := r.lookUp(ctx, s.heard, others)
		if err != nil {
			return s, err
		}
		fits = append(fits, more...)
	}
	s.first = rank(fits, opt)
	told()
	if fits, err = r.listen(ctx, s.long, s.cents, harpsOf(leaders(s.first)), told); err != nil {
		return s, err
	}
	if opt.Layout == nil {
		fits = withLayouts(fits)
	}
	s.second = rank(fits, opt)
	return s, nil
}

// steps returns what is called after each step of a search: its begin, the first hearing,
// the looking up and each of the finalists.
func (opt Options) steps(ctx context.Context) func() {
	done := 0
	return func() {
		if opt.Progress != nil && ctx.Err() == nil {
			opt.Progress(float64(done) / (2 + finalists))
		}
		done++
	}
}

// likely are the candidates that are looked up note by note.
func likely(glanced []Candidate) []Candidate {
	n := 1
	for n < min(promising, len(glanced)) && glanced[n].Probability > hopeless {
		n++
	}
	return glanced[:n]
}

// leaders of the first round that are listened for: so many that they are settled together.
func leaders(first []Candidate) []Candidate {
	n, sum := 0, 0.0
	for n < min(finalists, len(first)) && sum < settled {
		sum += first[n].Probability
		n++
	}
	return first[:n]
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

// listen for each of the harps; told is called after each.
func (r *Ranker) listen(
	ctx context.Context,
	c decode.Clip,
	cents float64,
	harps []harp.Harp,
	told func(),
) ([]Fit, error) {
	var fits []Fit
	for _, h := range harps {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		fits = append(fits, r.fit(c, cents, h))
		told()
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
