package bars

import (
	"maps"
	"math"
	"slices"

	"blowdraw/onset/form"
)

// FitGrooves counts what begins where in the bar, groove by groove. Each strand of each
// part of a beat is a mixture of two kinds of moments, those in which something begins
// and those in which nothing does; how the levels of attacks are spread in both, and how
// likely something begins, are found by expectation maximisation (Dempster, Laird & Rubin
// 1977, "Maximum likelihood from incomplete data via the EM algorithm").
func FitGrooves(progress func(string)) (form.Grooves, error) {
	takes, err := rendered(grooveTakes, progress)
	if err != nil {
		return form.Grooves{}, err
	}
	counts, usual := counted(takes)
	m := newMixture(counts, usual)
	for range 60 {
		m.pair()
		m.step(counts)
	}
	out := form.Grooves{
		Model: "grooves",
		Says: "how likely something begins in each part of each beat of a bar, in tenths rounded down, by " +
			"groove; shares of the levels of attacks where something begins, where nothing does and anywhere",
		FittedOn: described(grooveTakes),
		Strands:  form.StrandNames(),
		Hit:      m.hit.rounded(), Rest: m.rest.rounded(), Usual: usual.rounded(),
	}
	for _, name := range m.names {
		out.Grooves = append(out.Grooves, form.Groove{Name: name, Beats: m.patterns(name)})
	}
	return out, nil
}

const (
	slots   = 12 // parts of a beat in which attacks are counted
	strands = len(form.Shares{})
	levels  = form.Levels
	byNotes = strands - 1 // the strand of the player's notes, whose levels are not fitted
	alike   = 0.3         // by how much of their difference beats 1 and 3, and 2 and 4, come together in a step
)

// shares of the levels of attacks, strand by strand.
type shares form.Shares

// rounded to three decimals.
func (s shares) rounded() (out form.Shares) {
	for b := range s {
		for l, v := range s[b] {
			out[b][l] = rounded(v, 3)
		}
	}
	return out
}

// normalized to shares that add up to 1.
func (s shares) normalized() shares {
	for b := range s {
		sum := 0.0
		for _, v := range s[b] {
			sum += v
		}
		for l := range s[b] {
			s[b][l] /= sum
		}
	}
	return s
}

// counts of levels in the beats of a bar, part by part and strand by strand.
type counts [4][slots]shares

// class is what a take's groove is counted as.
func (k take) class() string {
	feel := "swung"
	if k.swing < 0.55 {
		feel = "even"
	}
	switch k.groove {
	case "boogie", "two-beat", "no drums":
		return k.groove + " " + feel
	}
	return k.groove
}

// counted are the attacks of takes by the classes of their grooves, and the shares of
// levels anywhere; what is unheard does not count.
func counted(takes []take) (by map[string]*counts, usual shares) {
	by = map[string]*counts{}
	for _, k := range takes {
		attacks := k.sound.Attacks(k.heard)
		for b := range attacks {
			for _, l := range attacks[b] {
				if l < levels {
					usual[b][l]++
				}
			}
		}
		c := by[k.class()]
		if c == nil {
			c = &counts{}
			by[k.class()] = c
		}
		for i, at := range k.beats[:len(k.beats)-1] {
			period, place := k.beats[i+1]-at, ((i-k.first)%4+4)%4
			for s := range slots {
				f := int(math.Round((at + float64(s)/slots*period) / k.sound.DrumHop))
				for b := range attacks {
					if f < len(attacks[b]) && attacks[b][f] < levels {
						c[place][s][b][attacks[b][f]]++
					}
				}
			}
		}
	}
	return by, usual.normalized()
}

// mixture of moments in which something begins and in which nothing does.
type mixture struct {
	names     []string // of the classes
	likely    map[string]*[4][slots][strands]float64
	hit, rest shares
}

// foremost are the commonest grooves: package form looks at the first ones first (common
// practice, no source).
var foremost = []string{"shuffle", "straight", "slow", "rhumba"}

// ordered are the classes, the foremost first and the others by name.
func ordered(by map[string]*counts) []string {
	var out []string
	for _, name := range slices.Concat(foremost, slices.Sorted(maps.Keys(by))) {
		if by[name] != nil && !slices.Contains(out, name) {
			out = append(out, name)
		}
	}
	return out
}

// newMixture is where the search begins: louder levels are likelier where something
// begins.
func newMixture(by map[string]*counts, usual shares) mixture {
	m := mixture{names: ordered(by), likely: map[string]*[4][slots][strands]float64{}}
	for b := range usual {
		for l, v := range usual[b] {
			m.hit[b][l], m.rest[b][l] = v*math.Pow(2, float64(l)), v*math.Pow(0.6, float64(l))
		}
	}
	m.hit[byNotes], m.rest[byNotes] = [levels]float64{0.1, 0.9}, [levels]float64{0.97, 0.03}
	m.hit, m.rest = m.hit.normalized(), m.rest.normalized()
	for _, name := range m.names {
		p := &[4][slots][strands]float64{}
		for i := range p {
			for s := range p[i] {
				for b := range p[i][s] {
					p[i][s][b] = 0.3
				}
			}
		}
		m.likely[name] = p
	}
	return m
}

// pair brings beats 1 and 3, and 2 and 4, together: they are alike unless much speaks
// against it.
func (m mixture) pair() {
	for _, p := range m.likely {
		for s := range slots {
			for b := range strands {
				for i := range 2 {
					mean := (p[i][s][b] + p[i+2][s][b]) / 2
					p[i][s][b] += alike * (mean - p[i][s][b])
					p[i+2][s][b] += alike * (mean - p[i+2][s][b])
				}
			}
		}
	}
}

// step is one of expectation maximisation.
func (m *mixture) step(by map[string]*counts) {
	var hit, rest shares
	for _, name := range m.names {
		for i := range by[name] {
			for s := range slots {
				for b := range strands {
					p := &m.likely[name][i][s][b]
					sum, n := 0.5, 2.0
					for l, v := range by[name][i][s][b] {
						if v == 0 {
							continue
						}
						begins := *p * m.hit[b][l] / (*p*m.hit[b][l] + (1-*p)*m.rest[b][l])
						sum, n = sum+begins*v, n+v
						hit[b][l] += begins * v
						rest[b][l] += (1 - begins) * v
					}
					*p = sum / n
				}
			}
		}
	}
	hit[byNotes], rest[byNotes] = m.hit[byNotes], m.rest[byNotes]
	m.hit, m.rest = hit.normalized(), rest.normalized()
}

// patterns of a class, at the parts of a beat that grooves are described at.
func (m mixture) patterns(name string) []form.Pattern {
	out := make([]form.Pattern, len(m.likely[name]))
	for i := range out {
		for b := range strands {
			for _, part := range form.Slots() {
				likely := m.likely[name][i][int(math.Round(slots*part))][b]
				out[i][b] += string(rune('0' + min(9, int(10*likely))))
			}
		}
	}
	return out
}
