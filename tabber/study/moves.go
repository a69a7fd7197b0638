package study

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/retab"
	"blowdraw/tabber/tab"
)

// Move is what comes back, in one form or another.
type Move struct {
	Number   int       `json:"number"` // from 1, the least likely by chance first
	Name     string    `json:"name"`   // in words
	Tab      string    `json:"tab"`    // the form that is oftenest, or the first
	Degrees  string    `json:"degrees"`
	Rhythm   string    `json:"rhythm,omitempty"` // when its notes begin, in beats from the first
	Notes    []Step    `json:"notes"`            // of that form, one by one
	Marks    string    `json:"marks,omitempty"`  // that most times have
	Times    []Played  `json:"times"`
	Variants []Variant `json:"variants"` // its forms, oftenest first
	Chance   float64   `json:"chance"`   // how many such come about by chance in as many notes
	Sure     float64   `json:"sure"`     // mean probability of its notes
	// InForm is how often it begins over each chord and in each bar of the form, Where the
	// share of its times in the bar where it is oftenest.
	InForm []Measure `json:"in_form"`
	Where  *Measure  `json:"where,omitempty"`
}

// Played is one time that a move is played: events From to To (exclusive) of a tab.
type Played struct {
	Place
	First  int    `json:"first"` // events of the tab, from 0
	Last   int    `json:"last"`
	Tab    string `json:"tab"`
	InForm int    `json:"in_form,omitempty"` // bar of the form that it begins in
	Chord  string `json:"chord,omitempty"`
}

// Step is one event of a move: from when to when it sounds, in beats from the first, or
// without a tempo in seconds.
type Step struct {
	Tab    string  `json:"tab"`
	Degree string  `json:"degree"`
	Draw   bool    `json:"draw"`
	From   float64 `json:"from"`
	To     float64 `json:"to"`
}

// Variant is one form of a move.
type Variant struct {
	Tab   string `json:"tab"`
	Count int    `json:"count"`
}

// apart is by how many seconds solos lie apart where they are laid one after the other.
const apart = 60

// moves are what comes back in all solos together: on one harp, in one key, by degree.
func moves(solos []solo, sum Summary) []Move {
	whole, of := together(solos)
	out := []Move{}
	for _, m := range phrasing.Recurring(whole) {
		var times []Played
		for _, t := range m.Times {
			first, last := of[t[0]], of[t[1]-1]
			times = append(times, timeOf(solos[first.solo], first.index, last.index))
		}
		out = append(out, moveOf(solos, sum, times, m.Chance))
	}
	slices.SortStableFunc(out, func(a, b Move) int { return cmp.Compare(a.Chance, b.Chance) })
	for i := range out {
		out[i].Number = i + 1
	}
	return out
}

// together lays all solos one after the other on the harp and in the key of the first, and
// says of each event which one it was. In the same position holes stay; in another, degrees.
func together(solos []solo) (whole tab.Document, of []sound) {
	at := 0.0
	for i, s := range solos {
		d := s.Document
		if i == 0 {
			whole = tab.Document{Harp: d.Harp, SongKey: d.SongKey, BPM: d.BPM}
		}
		switch first := whole.Harp; {
		case i == 0:
		case first.Layout.Equal(d.Harp.Layout) &&
			harp.Position(first.Key(), whole.SongKey) == d.HarpPosition():
			d, _ = retab.Holes(d, first)
		default:
			d, _ = retab.Music(d, first, whole.SongKey, true)
		}
		end := at
		for k, e := range d.Events {
			e.Start, e.End = e.Start+at, e.End+at
			whole.Events = append(whole.Events, e)
			of = append(of, s.sounds[k])
			end = max(end, e.End)
		}
		for _, p := range s.phrases {
			from, to := s.sounds[p.from].Start, s.sounds[p.to-1].End
			whole.Phrases = append(whole.Phrases, tab.Phrase{Start: from + at, End: to + at})
		}
		at = end + apart
	}
	return whole, of
}

func timeOf(s solo, first, last int) Played {
	a, b := s.sounds[first], s.sounds[last]
	t := Played{Place: a.place, First: first, Last: last + 1, Chord: a.chord}
	t.To = max(t.To, b.place.To)
	if in, ok := s.barAt(a.from); ok {
		t.InForm = in.inForm
	}
	var tokens []string
	for _, x := range s.sounds[first : last+1] {
		tokens = append(tokens, s.EventToken(x.Event))
	}
	t.Tab = strings.Join(tokens, " ")
	return t
}

func moveOf(solos []solo, sum Summary, times []Played, chance float64) Move {
	m := Move{Times: times, Chance: chance, Variants: variants(times)}
	m.Tab = m.Variants[0].Tab
	main := times[slices.IndexFunc(times, func(t Played) bool { return t.Tab == m.Tab })]
	s := solos[main.Solo]
	sounds := s.sounds[main.First:main.Last]
	m.Name, m.Degrees, m.Rhythm = nameOf(s, sounds), degreeLine(sounds), rhythmOf(s, sounds)
	m.Notes = stepsOf(s, sounds)
	m.Marks = marksOf(solos, times)
	n := 0.0
	for _, t := range times {
		for _, x := range solos[t.Solo].sounds[t.First:t.Last] {
			m.Sure, n = m.Sure+x.readings[0].p, n+1
		}
	}
	m.Sure = tidy(m.Sure / n)
	m.InForm, m.Where = inForm(solos, sum, times)
	return m
}

func variants(times []Played) []Variant {
	var out []Variant
	for _, t := range times {
		i := slices.IndexFunc(out, func(v Variant) bool { return v.Tab == t.Tab })
		if i < 0 {
			i, out = len(out), append(out, Variant{Tab: t.Tab})
		}
		out[i].Count++
	}
	slices.SortStableFunc(out, func(a, b Variant) int { return b.Count - a.Count })
	return out
}

func degreeLine(sounds []sound) string {
	var words []string
	for _, x := range sounds {
		word := degreesText(x.readings[0].degrees)
		if strings.Contains(word, " ") {
			word = "[" + word + "]"
		}
		words = append(words, word)
	}
	return strings.Join(words, " ")
}

// rhythmOf says when each sound begins, in twelfths of a beat as fractions, counted from
// the beat that the first lies in.
func rhythmOf(s solo, sounds []sound) string {
	base, ok := s.BeatAt(sounds[0].Start)
	if !ok {
		return ""
	}
	if len(s.bars) == 0 {
		base = tidy(base)
	}
	var words []string
	for _, x := range sounds {
		at, _ := s.BeatAt(x.Start)
		words = append(words, beatsText(at-base))
	}
	return strings.Join(words, " ")
}

func stepsOf(s solo, sounds []sound) []Step {
	at := func(t float64) float64 {
		if beats, ok := s.BeatAt(t); ok {
			return beats
		}
		return t
	}
	var out []Step
	for _, x := range sounds {
		out = append(out, Step{
			Tab: s.EventToken(x.Event), Degree: degreesText(x.readings[0].degrees),
			Draw: len(x.Actions) > 0 && x.Actions[0].Breath == harp.Draw,
			From: tidy(at(x.Start) - at(sounds[0].Start)), To: tidy(at(x.End) - at(sounds[0].Start)),
		})
	}
	return out
}

// beatsText is a number of beats to the nearest third or quarter: 1+1/3.
func beatsText(beats float64) string {
	best := 0
	whole := int(beats)
	twelfths := 12 * (beats - float64(whole))
	for _, k := range []int{0, 3, 4, 6, 8, 9, 12} {
		if math.Abs(twelfths-float64(k)) < math.Abs(twelfths-float64(best)) {
			best = k
		}
	}
	if best == 12 {
		whole, best = whole+1, 0
	}
	parts := map[int]string{3: "1/4", 4: "1/3", 6: "1/2", 8: "2/3", 9: "3/4"}
	switch {
	case best == 0:
		return fmt.Sprint(whole)
	case whole == 0:
		return parts[best]
	}
	return fmt.Sprintf("%d+%s", whole, parts[best])
}

// marksOf are the marks that at least half of the times have somewhere, in the order in
// which they are written.
func marksOf(solos []solo, times []Played) string {
	var out []string
	for _, w := range tab.MarkWords() {
		if w.Name == tab.OffPitch || w.Name == tab.Bleed {
			continue
		}
		have := 0
		for _, t := range times {
			if slices.ContainsFunc(solos[t.Solo].sounds[t.First:t.Last], func(x sound) bool {
				_, ok := x.Mark(w.Name)
				return ok
			}) {
				have++
			}
		}
		if 2*have >= len(times) {
			out = append(out, w.Name)
		}
	}
	return strings.Join(out, " ")
}

// nameOf a move in words: which way it goes, from where to where, and what is in it.
func nameOf(s solo, sounds []sound) string {
	low := func(x sound) int {
		if notes := s.Sounding(x.Event); len(notes) > 0 {
			return slices.Min(notes)
		}
		return 0
	}
	first, last := sounds[0], sounds[len(sounds)-1]
	top, bottom := first, first
	for _, x := range sounds {
		if low(x) > low(top) {
			top = x
		}
		if low(x) < low(bottom) {
			bottom = x
		}
	}
	name := func(x sound) string {
		if len(x.readings[0].degrees) == 0 {
			return "?"
		}
		return harp.Degree(x.readings[0].degrees[0], 0)
	}
	ends := max(low(first), low(last))
	starts := min(low(first), low(last))
	var way string
	switch {
	case low(top) > ends+1 && low(bottom) < starts-1:
		way = fmt.Sprintf("turns round %s, up to %s and down to %s", name(last), name(top), name(bottom))
	case low(top) > ends+1:
		way = fmt.Sprintf("up from %s to %s and back to %s", name(first), name(top), name(last))
	case low(bottom) < starts-1:
		way = fmt.Sprintf("down from %s to %s and back to %s", name(first), name(bottom), name(last))
	case low(last) > low(first):
		way = fmt.Sprintf("up from %s to %s", name(first), name(last))
	case low(last) < low(first):
		way = fmt.Sprintf("down from %s to %s", name(first), name(last))
	default:
		way = "round " + name(first)
	}
	return strings.Join(append([]string{way}, inIt(sounds)...), ", ")
}

// inIt are words for what is in a move: its breath, bends, textures.
func inIt(sounds []sound) []string {
	var out []string
	blow, draw, bent, double, splits := 0, 0, 0, 0, 0
	for _, x := range sounds {
		for _, a := range x.Actions {
			if a.Bend > 0 {
				bent++
			}
		}
		switch {
		case len(x.Actions) == 0:
		case x.Actions[0].Breath == harp.Draw:
			draw++
		default:
			blow++
		}
		switch tab.Texture(x.Actions) {
		case tab.Double, tab.Chord:
			double++
		case tab.Split:
			splits++
		}
	}
	switch {
	case blow == 0 && draw > 0:
		out = append(out, "all draw")
	case draw == 0 && blow > 0:
		out = append(out, "all blow")
	}
	if bent > 0 {
		out = append(out, "bent")
	}
	if double > 0 {
		out = append(out, "with double stops")
	}
	if splits > 0 {
		out = append(out, "with splits")
	}
	return out
}

// inForm says over which chords and in which bars of the form a move begins, and holds the
// bar where it is oftenest against beginning anywhere in the form.
func inForm(solos []solo, sum Summary, times []Played) (out []Measure, where *Measure) {
	out = []Measure{}
	count := func(over string, is func(Played) bool) Measure {
		m := Measure{Name: "begins", Over: over, Unit: Count}
		var list []weighed
		for _, t := range times {
			if is(t) {
				m.Value++
				list = append(list, weighed{t.Place, 1})
			}
		}
		m.N, m.Places = m.Value, longest(list)
		return m
	}
	for _, c := range chordList(solos) {
		if m := count(c, func(t Played) bool { return t.Chord == c }); m.Value > 0 {
			out = append(out, m)
		}
	}
	if sum.FormBars == 0 {
		return out, nil
	}
	counts := make([]int, sum.FormBars)
	for k := range sum.FormBars {
		m := count(fmt.Sprintf("bar %d", k+1), func(t Played) bool { return t.InForm == k+1 })
		counts[k] = int(m.Value)
		if m.Value > 0 {
			out = append(out, m)
		}
		if m.Value > 0 && (where == nil || m.Value > where.Value) {
			where = &m
		}
	}
	if where == nil {
		return out, nil
	}
	best := *where
	n := 0
	for _, c := range counts {
		n += c
	}
	best.Value, best.Unit = tidy(best.Value/float64(n)), Share
	best.Expected, best.P = given(1/float64(sum.FormBars)), given(FitTest(counts, 8))
	return out, &best
}
