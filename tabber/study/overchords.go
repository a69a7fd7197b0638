package study

import (
	"slices"
)

// content is how many seconds of each of several categories lie in the parts of a bar, and
// in all, whether in a category or not.
type content struct {
	of  [][]float64 // by part, category
	all []float64   // by part
}

// slots are the parts that bars are cut into so that each has one chord: 1, 2 or 12.
func slots(solos []solo) int {
	n := 1
	for _, s := range solos {
		for _, b := range s.bars {
			switch len(b.chords) {
			case 0, 1:
			case 2:
				n = max(n, 2)
			default:
				n = 12
			}
		}
	}
	return n
}

// overChords are the shares of categories in the sounding time over each chord, category
// by category and chord by chord, with the place of what is longest, held against the
// chords of each solo dealt out anew among its bars. Of is the part, 0 to 1, of a sound
// that is of a category. Without test p is left out.
func overChords(solos []solo, names []string, of func(x sound, category int) float64, test bool,
	number uint64) []Measure {
	chords := chordList(solos)
	if len(chords) < 2 || len(names) == 0 {
		return nil
	}
	parts := slots(solos)
	var bars []content
	var labels [][]int // chord of each part of each bar, -1 for none
	var groups []span  // of the bars of a solo
	for _, s := range solos {
		g := span{from: len(bars)}
		for _, b := range s.bars {
			if len(b.chords) > 0 {
				bars = append(bars, contentOf(s, b, len(names), parts, of))
				labels = append(labels, labelsOf(b, parts, chords))
			}
		}
		g.to = len(bars)
		groups = append(groups, g)
	}
	observed := sharesOver(bars, labels, len(names), len(chords))
	out := make([]Measure, 0, len(observed))
	for c, name := range names {
		for h, chord := range chords {
			m := Measure{Name: name, Over: chord, Unit: Share, Value: tidy(observed[c*len(chords)+h])}
			m.Places, m.N = placesOver(solos, chord, func(x sound) float64 { return of(x, c) })
			out = append(out, m)
		}
	}
	if !test {
		return out
	}
	rows := [][]float64{observed}
	rng := draws(number)
	dealt := slices.Clone(labels)
	for range permutations - 1 {
		for _, g := range groups {
			some := dealt[g.from:g.to]
			rng.Shuffle(len(some), func(i, j int) { some[i], some[j] = some[j], some[i] })
		}
		rows = append(rows, sharesOver(bars, dealt, len(names), len(chords)))
	}
	p, expected := smallestP(rows)
	for k := range out {
		out[k].P, out[k].Expected = given(p[k]), given(expected[k])
	}
	return out
}

func contentOf(s solo, b bar, categories, parts int, of func(sound, int) float64) content {
	c := content{of: make([][]float64, parts), all: make([]float64, parts)}
	for k := range parts {
		c.of[k] = make([]float64, categories)
	}
	long := (b.to - b.from) / float64(parts)
	for _, x := range s.sounds {
		if x.End <= b.from || x.from >= b.to {
			continue
		}
		for k := range parts {
			from := b.from + float64(k)*long
			seconds := min(x.End, from+long) - max(x.from, from)
			if seconds <= 0 {
				continue
			}
			c.all[k] += seconds
			for i := range categories {
				c.of[k][i] += seconds * of(x, i)
			}
		}
	}
	return c
}

func labelsOf(b bar, parts int, chords []string) []int {
	out := make([]int, parts)
	for k := range out {
		out[k] = slices.Index(chords, b.chords[k*len(b.chords)/parts])
	}
	return out
}

// sharesOver are the shares by category and chord, 0 where nothing sounds.
func sharesOver(bars []content, labels [][]int, categories, chords int) []float64 {
	out, all := make([]float64, categories*chords), make([]float64, chords)
	for i, b := range bars {
		for k, h := range labels[i] {
			if b.all[k] == 0 {
				continue
			}
			all[h] += b.all[k]
			for c, v := range b.of[k] {
				out[c*chords+h] += v
			}
		}
	}
	for c := range categories {
		for h := range chords {
			if all[h] > 0 {
				out[c*chords+h] /= all[h]
			}
		}
	}
	return out
}

// placesOver are the longest sounds of a category over a chord, and how many there are,
// each counting with its part of it.
func placesOver(solos []solo, chord string, of func(sound) float64) ([]Place, float64) {
	var list []weighed
	n := 0.0
	for _, s := range solos {
		for _, x := range s.sounds {
			part := of(x)
			if part == 0 || chord != "" && x.chord != chord {
				continue
			}
			n += part
			if part >= 0.25 {
				list = append(list, weighed{x.place, x.seconds() * part})
			}
		}
	}
	return longest(list), tidy(n)
}

// onTheWhole are the shares of categories in all sounding time.
func onTheWhole(solos []solo, names []string, of func(x sound, category int) float64) []Measure {
	out := make([]Measure, 0, len(names))
	all := 0.0
	for _, s := range solos {
		for _, x := range s.sounds {
			all += x.seconds()
		}
	}
	for c, name := range names {
		m := Measure{Name: name, Unit: Share}
		for _, s := range solos {
			for _, x := range s.sounds {
				m.Value += x.seconds() * of(x, c) / max(all, 1e-9)
			}
		}
		m.Value = tidy(m.Value)
		m.Places, m.N = placesOver(solos, "", func(x sound) float64 { return of(x, c) })
		out = append(out, m)
	}
	return out
}
