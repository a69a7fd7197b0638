package study

import (
	"math"
	"slices"

	"blowdraw/tabber/phrasing"
)

// Answer is a phrase that takes up an earlier one of the same solo.
type Answer struct {
	Place
	Phrase int     `json:"phrase"` // number in its solo, from 1
	Of     int     `json:"of"`     // number of the phrase that it takes up
	Called Place   `json:"called"` // that phrase
	Likes  []Like  `json:"likes"`  // in what they are alike, the least likely first
	P      float64 `json:"p"`      // chance that a phrase is as like any of those before it
	False  float64 `json:"false"`  // share of the answers as sure as this one that are chance
}

// Like is one way in which two phrases are alike.
type Like struct {
	What  string  `json:"what"`
	Notes int     `json:"notes"` // over how many
	P     float64 `json:"p"`
}

// What two phrases may have in common.
const (
	Beginning = "same beginning"
	Ending    = "same end"
	Rhythm    = "same rhythm"
	Lower     = "same shape, lower"
	Higher    = "same shape, higher"
)

// How two phrases are held against each other. A player answers what was played just
// before (common practice, no source).
const (
	backward  = 4 // so many phrases back at most
	leastEnds = 3 // events of a common beginning or end
	leastRun  = 4 // steps, or lengths, of a common shape or rhythm
	kinds     = 4 // ways in which phrases are compared
)

// answers finds for each phrase the earlier one that it is least likely to resemble by
// chance. Of those that it tells one in twenty may be chance.
func answers(solos []solo) []Answer {
	var all []Answer
	var p []float64
	for _, s := range solos {
		v := voiceOf(s)
		for j := range s.phrases {
			a := v.answer(j)
			all, p = append(all, a), append(p, a.P)
		}
	}
	out := []Answer{}
	for i, q := range FalseShare(p) {
		if q < Sure {
			all[i].False = tidy(q)
			out = append(out, all[i])
		}
	}
	return out
}

// voice is what is compared of a solo, sound by sound.
type voice struct {
	solo
	notes   []int     // the same number: the same notes
	odds    []float64 // see phrasing.Rarity
	lowest  []int     // MIDI number of the lowest note, 0 for none
	steps   []int     // class of the step from the sound before, none at the beginning of a phrase
	lengths []int     // class of the time since the sound before
}

const none = math.MinInt

func voiceOf(s solo) voice {
	v := voice{solo: s, lowest: make([]int, len(s.sounds))}
	v.notes, v.odds = phrasing.Rarity(s.Document, true)
	v.steps, v.lengths = make([]int, len(s.sounds)), make([]int, len(s.sounds))
	for i, x := range s.sounds {
		if notes := s.Sounding(x.Event); len(notes) > 0 {
			v.lowest[i] = slices.Min(notes)
		}
		v.steps[i], v.lengths[i] = none, none
		if i == 0 || s.sounds[i-1].phrase != x.phrase {
			continue
		}
		v.lengths[i] = lengthClass(s, s.sounds[i-1].Start, x.Start)
		if v.lowest[i] > 0 && v.lowest[i-1] > 0 {
			v.steps[i] = stepClass(v.lowest[i] - v.lowest[i-1])
		}
	}
	return v
}

// stepClass makes steps alike that are the same on the staff: a second, a third, and so
// on, up or down.
func stepClass(semitones int) int {
	sign := 1
	if semitones < 0 {
		sign, semitones = -1, -semitones
	}
	for class, most := range []int{0, 2, 4, 7, 12} {
		if semitones <= most {
			return sign * class
		}
	}
	return sign * 5
}

// written are lengths in beats that are told apart.
var written = []float64{1. / 6, 1. / 4, 1. / 3, 1. / 2, 2. / 3, 1, 4. / 3, 3. / 2, 5. / 3, 2, 3, 4}

// lengthClass is the number of the written length that is nearest in ratio, or without a
// tempo that of half octaves of seconds.
func lengthClass(s solo, from, to float64) int {
	a, ok := s.BeatAt(from)
	b, _ := s.BeatAt(to)
	if !ok {
		return int(math.Round(2 * math.Log2(max(to-from, 0.01))))
	}
	best := 0
	away := func(k int) float64 { return math.Abs(math.Log(max(b-a, 0.01) / written[k])) }
	for k := range written {
		if away(k) < away(best) {
			best = k
		}
	}
	return best
}

// answer is what phrase j takes up; P is 1 if nothing.
func (v voice) answer(j int) Answer {
	best := Answer{P: 1}
	comparisons := float64(kinds * min(j, backward))
	for i := max(0, j-backward); i < j; i++ {
		likes := v.likes(v.phrases[i], v.phrases[j], comparisons)
		if len(likes) > 0 && likes[0].P < best.P {
			best = Answer{
				Place: v.phrasePlace(v.phrases[j]), Phrase: j + 1, Of: i + 1,
				Called: v.phrasePlace(v.phrases[i]), Likes: likes, P: likes[0].P,
			}
		}
	}
	return best
}

// likes are the ways in which phrase b is like phrase a beyond chance, the least likely
// first.
func (v voice) likes(a, b span, comparisons float64) []Like {
	var out []Like
	add := func(what string, notes int, p float64) {
		if p = min(1, p*comparisons); p < Sure {
			out = append(out, Like{what, notes, tidy(max(p, 1e-6))})
		}
	}
	long := min(a.to-a.from, b.to-b.from)
	n, odds := v.same(a.from, b.from, 1, long)
	if n >= leastEnds {
		add(Beginning, n, phrasing.ByChance(odds))
	}
	if m, odds := v.same(a.to-1, b.to-1, -1, long); m >= leastEnds && m < long {
		add(Ending, m, phrasing.ByChance(odds))
	}
	if k, chance := v.run(v.lengths, a, b, long); k >= leastRun {
		add(Rhythm, k+1, chance)
	}
	if way := v.lowest[b.from] - v.lowest[a.from]; way != 0 {
		what := Lower
		if way > 0 {
			what = Higher
		}
		if k, chance := v.run(v.steps, a, b, long); k >= leastRun {
			add(what, k+1, chance)
		}
	}
	slices.SortStableFunc(out, func(a, b Like) int { return compare(a.P, b.P) })
	return out
}

// same is how many sounds from i and j on, in one direction, are the same notes, and their
// log odds, each in so far as both are sure.
func (v voice) same(i, j, way, most int) (n int, odds float64) {
	different := 0
	for n < most && v.notes[i] == v.notes[j] {
		odds += v.odds[j] * v.sounds[i].readings[0].p * v.sounds[j].readings[0].p
		if n > 0 && v.notes[j] != v.notes[j-way] {
			different++
		}
		n, i, j = n+1, i+way, j+way
	}
	if different < 2 {
		return 0, 0 // one note again and again is no beginning
	}
	return n, odds
}

// run is how many classes two phrases have in common from their second sounds on, and how
// likely such a run is by chance, as often as the classes are and follow each other in the
// other phrases of the solo.
func (v voice) run(classes []int, a, b span, most int) (n int, chance float64) {
	odds := 0.0
	for n = 1; n < most; n++ {
		i, j := a.from+n, b.from+n
		if classes[i] == none || classes[i] != classes[j] {
			break
		}
		sure := v.sounds[i].readings[0].p * v.sounds[j].readings[0].p
		odds -= sure * math.Log(v.usual(classes, j, a, b))
	}
	return n - 1, phrasing.ByChance(odds)
}

// usual is how often in phrases other than a and b a class is that of sound j, or follows
// the one before it, whichever is oftener.
func (v voice) usual(classes []int, j int, a, b span) float64 {
	var all, of, pairs, after float64
	for i, c := range classes {
		if c == none || i >= a.from && i < a.to || i >= b.from && i < b.to {
			continue
		}
		all++
		if c == classes[j] {
			of++
		}
		if i > 0 && classes[i-1] != none && classes[i-1] == classes[j-1] {
			pairs++
			if c == classes[j] {
				after++
			}
		}
	}
	share := (of + 0.5) / (all + 1)
	return max(share, (after+share)/(pairs+1))
}
