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
	notes  []int     // the same number: the same notes
	odds   []float64 // see phrasing.Rarity
	lowest []int     // MIDI number of the lowest note, 0 for none
	// Class of the step from the sound before, and of the time since, none at the beginning
	// of a phrase.
	steps, lengths follow
}

// follow are classes of sounds, and how often they are, each and after each other.
type follow struct {
	class []int
	all   int
	of    map[int]int
	pairs map[[2]int]int
	after map[int]int // how often something follows a class
}

func newFollow(class []int) follow {
	f := follow{class: class, of: map[int]int{}, pairs: map[[2]int]int{}, after: map[int]int{}}
	f.count(span{0, len(class)}, 1)
	return f
}

// count adds the classes of some sounds so many times.
func (f *follow) count(s span, times int) {
	for i := s.from; i < s.to; i++ {
		c := f.class[i]
		if c == none {
			continue
		}
		f.all += times
		f.of[c] += times
		if i > 0 && f.class[i-1] != none {
			f.pairs[[2]int{f.class[i-1], c}] += times
			f.after[f.class[i-1]] += times
		}
	}
}

const none = math.MinInt

func voiceOf(s solo) voice {
	v := voice{solo: s, lowest: make([]int, len(s.sounds))}
	v.notes, v.odds = phrasing.Rarity(s.Document, true)
	steps, lengths := make([]int, len(s.sounds)), make([]int, len(s.sounds))
	for i, x := range s.sounds {
		if notes := s.Sounding(x.Event); len(notes) > 0 {
			v.lowest[i] = slices.Min(notes)
		}
		steps[i], lengths[i] = none, none
		if i == 0 || s.sounds[i-1].phrase != x.phrase {
			continue
		}
		lengths[i] = lengthClass(s, s.sounds[i-1].Start, x.Start)
		if v.lowest[i] > 0 && v.lowest[i-1] > 0 {
			steps[i] = stepClass(v.lowest[i] - v.lowest[i-1])
		}
	}
	v.steps, v.lengths = newFollow(steps), newFollow(lengths)
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
func (v voice) run(f follow, a, b span, most int) (n int, chance float64) {
	// Without these two phrases, which are put back below.
	f.count(a, -1)
	f.count(b, -1)
	odds := 0.0
	for n = 1; n < most; n++ {
		i, j := a.from+n, b.from+n
		if f.class[i] == none || f.class[i] != f.class[j] {
			break
		}
		sure := v.sounds[i].readings[0].p * v.sounds[j].readings[0].p
		odds -= sure * math.Log(f.usual(j))
	}
	f.count(a, 1)
	f.count(b, 1)
	return n - 1, phrasing.ByChance(odds)
}

// usual is how often a class is that of sound j, or follows the one before it, whichever is
// oftener.
func (f follow) usual(j int) float64 {
	share := (float64(f.of[f.class[j]]) + 0.5) / float64(f.all+1)
	before := f.class[j-1]
	if before == none {
		return share
	}
	after := float64(f.pairs[[2]int{before, f.class[j]}])
	return max(share, (after+share)/float64(f.after[before]+1))
}
