package study

import (
	"fmt"
	"slices"
	"strings"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// Textures says how many reeds sound together, and when.
type Textures struct {
	Shares  []Measure `json:"shares"`  // of sounding time, by texture, on the whole and over each chord
	Bars    []Measure `json:"bars"`    // share of rough sound in each bar of the form
	Changes []Measure `json:"changes"` // within phrases
	Doubles []Measure `json:"doubles"` // which double stops, most sounding first
}

// Names of textures. A split is named by its interval, such as "octave split".
const (
	Single = "single note"
	Double = "double stop"
	Bleed  = "bleed" // a double stop of which one reed only bleeds in
	Chord  = "chord"
	split  = " split"
)

// textureOf actions, or of so many degrees at once that the harp cannot play.
func textureOf(d tab.Document, a []harp.Action, degrees int) string {
	switch word := tab.Texture(a); word {
	case tab.Single:
		return Single
	case tab.Double:
		return Double
	case tab.Split:
		return harp.Interval(d.Harp.MIDI(a[1])-d.Harp.MIDI(a[0])) + split
	case tab.Chord:
		return Chord
	}
	switch degrees {
	case 0, 1:
		return Single
	case 2:
		return Double
	}
	return Chord
}

// textureList are the textures of all solos, splits in the order of their names.
func textureList(solos []solo) []string {
	var splits []string
	seen := map[string]bool{}
	for _, s := range solos {
		for _, x := range s.sounds {
			for _, r := range x.readings {
				if strings.HasSuffix(r.texture, split) && !seen[r.texture] {
					splits = append(splits, r.texture)
				}
				seen[r.texture] = true
			}
		}
	}
	slices.Sort(splits)
	var out []string
	for _, name := range slices.Concat([]string{Single, Double, Bleed}, splits, []string{Chord}) {
		if seen[name] {
			out = append(out, name)
		}
	}
	return out
}

// texture is the part of a sound that has that texture, by probability.
func (s sound) texture(name string) float64 {
	sum := 0.0
	for _, r := range s.readings {
		if r.texture == name {
			sum += r.p
		}
	}
	return sum
}

// rough is the part of a sound in which neighbours sound together.
func (s sound) rough() float64 { return s.texture(Double) + s.texture(Bleed) + s.texture(Chord) }

func textures(solos []solo, sum Summary) Textures {
	names := textureList(solos)
	of := func(x sound, k int) float64 { return x.texture(names[k]) }
	out := Textures{Shares: onTheWhole(solos, names, of), Doubles: doubles(solos)}
	out.Shares = append(out.Shares, overChords(solos, names, of, !sum.Short, 2)...)
	out.Bars = byBar(solos, sum, "rough", func(x sound) float64 { return x.rough() }, true, 3)
	out.Changes = changes(solos, sum)
	return out
}

// changes counts, within phrases, how often a single note turns rough and back, and how
// far into the phrase what is rough lies, held against the textures of each phrase in any
// other order.
func changes(solos []solo, sum Summary) []Measure {
	var phrases [][][2]float64 // single and rough parts of the sounds of each phrase
	var rougher, smoother []weighed
	n := 0.0
	for _, s := range solos {
		for _, f := range s.phrases {
			var list [][2]float64
			for i := f.from; i < f.to; i++ {
				x := s.sounds[i]
				list = append(list, [2]float64{x.texture(Single), x.rough()})
				n += x.rough()
				if i == f.from {
					continue
				}
				before := s.sounds[i-1]
				at := before.place
				at.To = x.place.To
				if up := before.texture(Single) * x.rough(); up >= 0.25 {
					rougher = append(rougher, weighed{at, up})
				}
				if down := before.rough() * x.texture(Single); down >= 0.25 {
					smoother = append(smoother, weighed{at, down})
				}
			}
			phrases = append(phrases, list)
		}
	}
	if n < 1 {
		return []Measure{}
	}
	up, down, place := counted(phrases)
	out := []Measure{
		{Name: "smooth to rough", Value: tidy(up), Unit: Count, N: tidy(up), Places: longest(rougher)},
		{Name: "rough to smooth", Value: tidy(down), Unit: Count, N: tidy(down), Places: longest(smoother)},
		{Name: "rough within the phrase", Value: tidy(place), Unit: OfOne, N: tidy(n)},
	}
	if sum.Short {
		return out
	}
	rows := [][]float64{{up, down, place}}
	rng := draws(4)
	for range permutations - 1 {
		for _, list := range phrases {
			rng.Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
		}
		up, down, place := counted(phrases)
		rows = append(rows, []float64{up, down, place})
	}
	p, expected := smallestP(rows)
	for k := range out {
		out[k].P, out[k].Expected = given(p[k]), given(expected[k])
	}
	return out
}

// counted are how many changes there are to rough and back, and where in its phrase, from
// 0 to 1, what is rough lies on average.
func counted(phrases [][][2]float64) (up, down, place float64) {
	rough := 0.0
	for _, list := range phrases {
		for i, x := range list {
			if i > 0 {
				up += list[i-1][0] * x[1]
				down += list[i-1][1] * x[0]
			}
			if len(list) > 1 {
				rough += x[1]
				place += x[1] * float64(i) / float64(len(list)-1)
			}
		}
	}
	if rough > 0 {
		place /= rough
	}
	return up, down, place
}

// doubles are the double stops by their tab, as shares of the time of all.
func doubles(solos []solo) []Measure {
	out := []Measure{}
	index := map[string]int{}
	var lists [][]weighed
	all := 0.0
	for _, s := range solos {
		for _, x := range s.sounds {
			for _, r := range x.readings {
				if r.texture != Double && r.texture != Bleed {
					continue
				}
				name := tab.Token(r.actions)
				k, ok := index[name]
				if !ok {
					k, index[name] = len(out), len(out)
					out = append(out, Measure{Name: name, Over: degreesText(r.degrees), Unit: Share})
					lists = append(lists, nil)
				}
				out[k].N += r.p
				out[k].Value += r.p * x.seconds()
				all += r.p * x.seconds()
				if r.p >= 0.25 {
					lists[k] = append(lists[k], weighed{x.place, r.p * x.seconds()})
				}
			}
		}
	}
	for k := range out {
		out[k].Value, out[k].N = tidy(out[k].Value/max(all, 1e-9)), tidy(out[k].N)
		out[k].Places = longest(lists[k])
	}
	slices.SortStableFunc(out, func(a, b Measure) int {
		if a.Value != b.Value {
			return -compare(a.Value, b.Value)
		}
		return strings.Compare(a.Name, b.Name)
	})
	return out
}

func compare(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// degreesText is "5 b7".
func degreesText(degrees []int) string {
	var words []string
	for _, n := range degrees {
		words = append(words, fmt.Sprint(harp.Degree(n, 0)))
	}
	return strings.Join(words, " ")
}
