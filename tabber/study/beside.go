package study

import (
	"math"
	"slices"

	"blowdraw/tabber/tab"
)

// Difference is a measure of two players, side by side.
type Difference struct {
	Part string   `json:"part"` // one of Parts
	Name string   `json:"name"`
	Over string   `json:"over,omitempty"`
	Unit string   `json:"unit"`
	A    float64  `json:"a"`
	B    float64  `json:"b"`
	P    *float64 `json:"p,omitempty"` // chance of such a difference between phrases dealt out to two players
	// Phrases that have most of it.
	PlacesA []Place `json:"places_a,omitempty"`
	PlacesB []Place `json:"places_b,omitempty"`
}

// Beyond reports whether the players differ by more than chance.
func (d Difference) Beyond() bool { return d.P != nil && *d.P < Sure }

// Beside are two players held against each other.
type Beside struct {
	A           Study        `json:"a"`
	B           Study        `json:"b"`
	Differences []Difference `json:"differences"`
}

// Parts of a study, in order.
func Parts() []string {
	return []string{"notes over chords", "textures", "time", "call and answer", "moves", "how it is played"}
}

// tested is how often phrases are dealt out to two players; more often than elsewhere,
// since many measures are held against each other at once.
const tested = 10000

// leastPhrases that each of two players must have for a test.
const leastPhrases = 6

// Compare studies two players and holds them against each other, measure by measure: the
// phrases of both are dealt out anew to two players who have as many.
func Compare(a, b []tab.Document) Beside {
	out := Beside{A: Of(a), B: Of(b), Differences: []Difference{}}
	x, y := soundsOf(a), soundsOf(b)
	keys := keysOf(append(slices.Clone(x), y...))
	ta, tb := talliesOf(x, keys), talliesOf(y, keys)
	phrases := append(slices.Clone(ta), tb...)
	for k, key := range keys {
		va, okA := ratio(ta, k)
		vb, okB := ratio(tb, k)
		if okA && okB && (va != 0 || vb != 0) {
			out.Differences = append(out.Differences, Difference{
				Part: key.part, Name: key.name, Over: key.over, Unit: key.unit, A: tidy(va * key.times),
				B: tidy(vb * key.times), PlacesA: phrasesWith(x, ta, k), PlacesB: phrasesWith(y, tb, k),
			})
		}
	}
	if out.A.Summary.Short || out.B.Summary.Short || len(ta) < leastPhrases || len(tb) < leastPhrases {
		return out
	}
	var shown []int
	for k := range keys {
		va, okA := ratio(ta, k)
		vb, okB := ratio(tb, k)
		if okA && okB && (va != 0 || vb != 0) {
			shown = append(shown, k)
		}
	}
	rng := draws(9)
	var rows [][]float64
	all := make([]part, len(shown))
	for _, row := range phrases {
		for i, k := range shown {
			all[i].value, all[i].whole = all[i].value+row[k].value, all[i].whole+row[k].whole
		}
	}
	for range tested {
		rows = append(rows, apartBy(phrases[:len(ta)], all, shown))
		rng.Shuffle(len(phrases), func(i, j int) { phrases[i], phrases[j] = phrases[j], phrases[i] })
	}
	p, _ := smallestP(rows)
	for i := range out.Differences {
		out.Differences[i].P = given(p[i])
	}
	return out
}

// phrasesWith are the phrases that add most to a measure; row by row in tallies.
func phrasesWith(solos []solo, tallies [][]part, k int) []Place {
	var list []weighed
	row := 0
	for _, s := range solos {
		for _, f := range s.phrases {
			if p := tallies[row][k]; p.value != 0 && p.whole > 0 {
				list = append(list, weighed{s.phrasePlace(f), math.Abs(p.value)})
			}
			row++
		}
	}
	return longest(list)
}

// apartBy is by how much some phrases differ from the rest of all in each of the measures
// shown; 0 if one side has nothing of it.
func apartBy(phrases [][]part, all []part, shown []int) []float64 {
	some := make([]part, len(shown))
	for _, row := range phrases {
		for i, k := range shown {
			some[i].value, some[i].whole = some[i].value+row[k].value, some[i].whole+row[k].whole
		}
	}
	out := make([]float64, len(shown))
	for i, a := range some {
		if b := (part{all[i].value - a.value, all[i].whole - a.whole}); a.whole > 1e-9 && b.whole > 1e-9 {
			out[i] = a.value/a.whole - b.value/b.whole
		}
	}
	return out
}

// part is what a phrase adds to a measure, which is the sum of values over that of wholes.
type part struct{ value, whole float64 }

func ratio(phrases [][]part, k int) (float64, bool) {
	var sum part
	for _, p := range phrases {
		sum.value, sum.whole = sum.value+p[k].value, sum.whole+p[k].whole
	}
	if sum.whole == 0 {
		return 0, false
	}
	return sum.value / sum.whole, true
}

// key is a measure that two players share, and what a phrase adds to it.
type key struct {
	part, name, over, unit string
	times                  float64 // of the ratio
	of                     func(s solo, f span) part
}

// keysOf are the measures of solos.
func keysOf(solos []solo) []key {
	all := Parts()
	return slices.Concat(
		noteKeys(solos, all[0]), textureKeys(solos, all[1]), timeKeys(solos, all[2]), markKeys(all[5]),
	)
}

// noteKeys are the shares of degrees, over all and over each chord, and how deep blue notes are.
func noteKeys(solos []solo, name string) []key {
	var out []key
	share := func(degree int, note, over string) {
		out = append(out, key{name, note, over, Share, 1, summed(func(_ solo, x sound) part {
			if over != "" && x.chord != over {
				return part{}
			}
			return part{x.seconds() * x.share(degree), x.seconds()}
		})})
	}
	for degree, note := range Degrees() {
		share(degree, note, "")
	}
	if chords := chordList(solos); len(chords) > 1 {
		for degree, note := range Degrees() {
			for _, chord := range chords {
				share(degree, note, chord)
			}
		}
	}
	for _, note := range blueNotes {
		out = append(out, key{name, note.name, "below full size", Cents, 1, summed(func(s solo, x sound) part {
			over, _, ok := cents(s.Document, x)
			if depth := note.full - over; ok && depth >= shallow && depth <= deepest {
				p := x.readings[0].p
				return part{p * depth, p}
			}
			return part{}
		})})
	}
	return out
}

// textureKeys are the shares of textures.
func textureKeys(solos []solo, name string) []key {
	var out []key
	for _, texture := range textureList(solos) {
		out = append(out, key{name, texture, "", Share, 1, summed(func(_ solo, x sound) part {
			return part{x.seconds() * x.texture(texture), x.seconds()}
		})})
	}
	return out
}

// markKeys are how many notes in a hundred have each mark, and how far, how fast and how long.
func markKeys(name string) []key {
	var out []key
	for _, w := range tab.MarkWords() {
		if w.Name == tab.OffPitch {
			continue
		}
		out = append(out, key{name, w.Name, "", PerHund, 100, summed(func(_ solo, x sound) part {
			if m, ok := x.Mark(w.Name); ok {
				return part{weight(m), 1}
			}
			return part{0, 1}
		})})
		for _, side := range sides {
			out = append(out, key{name, w.Name, side.name, side.unit, 1, summed(func(_ solo, x sound) part {
				if m, ok := x.Mark(w.Name); ok && side.of(m) > 0 {
					return part{side.of(m), 1}
				}
				return part{}
			})})
		}
	}
	return out
}

func summed(of func(solo, sound) part) func(solo, span) part {
	return func(s solo, f span) part {
		var sum part
		for _, x := range s.sounds[f.from:f.to] {
			p := of(s, x)
			sum.value, sum.whole = sum.value+p.value, sum.whole+p.whole
		}
		return sum
	}
}

// timeKeys are the measures of time: in beats if all solos have a tempo, else in seconds.
func timeKeys(solos []solo, name string) []key {
	unit := Beats
	barred := true
	for _, s := range solos {
		if _, ok := s.BeatAt(0); !ok {
			unit = Seconds
		}
		barred = barred && len(s.bars) > 0
	}
	long := func(s solo, from, to float64) float64 {
		if unit == Seconds {
			return to - from
		}
		a, _ := s.BeatAt(from)
		b, _ := s.BeatAt(to)
		return b - a
	}
	end := func(s solo, f span) float64 { return s.sounds[f.to-1].End }
	out := []key{
		{name, "phrases", "", unit, 1, func(s solo, f span) part {
			return part{long(s, s.sounds[f.from].Start, end(s, f)), 1}
		}},
		{name, "spaces", "", unit, 1, func(s solo, f span) part {
			if f.to == len(s.sounds) {
				return part{}
			}
			return part{max(0, long(s, end(s, f), s.sounds[f.to].Start)), 1}
		}},
		{name, "notes a phrase", "", Count, 1, func(_ solo, f span) part {
			return part{float64(f.to - f.from), 1}
		}},
	}
	if !barred {
		return out
	}
	for k, where := range []string{"before the one", "on the one", "after the one"} {
		out = append(out, key{name, "phrases begin " + where, "", Share, 1, func(s solo, f span) part {
			if around(s, s.sounds[f.from].Start) == k {
				return part{1, 1}
			}
			return part{0, 1}
		}})
	}
	for k, p := range parts {
		out = append(out, key{name, "notes begin", p.name, Share, 1, summed(func(s solo, x sound) part {
			at, _ := s.BeatAt(x.Start)
			if partOf(at-math.Floor(at)) == k {
				return part{1, 1}
			}
			return part{0, 1}
		})})
	}
	return append(out, key{name, "after the beat", "", Millis, 1, summed(func(s solo, x sound) part {
		ms, ok := lateBy(s, x)
		if !ok {
			return part{}
		}
		return part{ms, 1}
	})})
}

// talliesOf are the parts of every phrase of solos in each measure.
func talliesOf(solos []solo, keys []key) [][]part {
	var out [][]part
	for _, s := range solos {
		for _, f := range s.phrases {
			row := make([]part, len(keys))
			for k, key := range keys {
				row[k] = key.of(s, f)
			}
			out = append(out, row)
		}
	}
	return out
}
