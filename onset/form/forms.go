package form

import (
	"math"
	"slices"
	"strings"
)

// Form is a form of the blues: the chords of its bars as degrees, those of one bar
// sharing it equally. Variants are other chords for the same bars.
type Form struct {
	Name     string
	variants []string
}

// Forms are those that can be found. The twelve-bar form and its quick change,
// with or without the dominant in the last two bars (the turnaround), as theory
// textbooks have them (Gotham et al., "Open Music Theory", chapter "Blues harmony":
// from memory, not looked up); the others are common practice, no source.
func Forms() []Form {
	return []Form{
		{"twelve-bar", []string{
			"I, I, I, I, IV, IV, I, I, V, IV, I, V",
			"I, I, I, I, IV, IV, I, I, V, IV, I, I",
			"I, I, I, I, IV, IV, I, I, V, IV, I, I V",
			"I, I, I, I, IV, IV, I, I, V, V, I, I",
			"I, IV, I, I, IV, IV, I, I, V, IV, I, V",
			"I, IV, I, I, IV, IV, I, I, V, IV, I, I",
			"I, IV, I, I, IV, IV, I, I, V, IV, I, I V",
		}},
		{"eight-bar", []string{
			"I, V, IV, IV, I, V, I, V",
			"I, V, IV, IV, I, V, I, I",
			"I, I, IV, IV, I, V, I, V",
		}},
		{"sixteen-bar", []string{
			"I, I, I, I, I, I, I, I, IV, IV, I, I, V, IV, I, V",
			"I, I, I, I, I, I, I, I, IV, IV, I, I, V, IV, I, I",
		}},
	}
}

// Bars is the length of the form.
func (f Form) Bars() int { return len(strings.Split(f.variants[0], ", ")) }

// Place is where a section lies in a form.
type Place struct {
	Form   Form
	First  int      // which bar of the form the section's first bar is, from 1
	Chords []string // of the bars of the section
	Sure   float64  // probability that form and first bar are right
}

// roots are the semitones of the degrees over the tonic.
var roots = map[string]int{"I": 0, "IV": 5, "V": 7}

// How forms are weighed: the evidence of a bar's beats, which are much alike,
// counts in part; chords chosen freely take changeCost nats for every change.
const (
	likeness   = 0.25
	changeCost = 2.5
	shareFree  = 0.2 // of sections that are in none of the forms
)

// share of the forms that last so many bars (common practice, no source).
func (f Form) share() float64 {
	switch f.Bars() {
	case 12:
		return 0.8
	case 8:
		return 0.12
	}
	return 0.08
}

// FindForm aligns forms with the chords of a section's bars, for a song in the key
// of a pitch class (0 is C). If one is not below 0 the form begins with that bar of
// the section, counted from 0. Where no form fits as well as chords chosen freely do, or no band is to
// be heard, the place has no form.
func FindForm(s Sound, bars Bars, notes []Note, key int, forms []Form, one int) Place {
	halves, ok := s.halves(bars, notes, key)
	if !ok {
		return Place{}
	}
	places := []Place{{}}
	scores := []float64{free(halves) + math.Log(shareFree)}
	for _, f := range forms {
		for at := 1; at <= f.Bars(); at++ {
			if one >= 0 && (at-1+one)%f.Bars() != 0 {
				continue
			}
			chords, fit := f.fit(halves, at)
			places = append(places, Place{Form: f, First: at, Chords: chords})
			scores = append(scores, fit+math.Log((1-shareFree)*f.share()/float64(f.Bars())))
		}
	}
	best, sure := topShare(scores)
	places[best].Sure = sure
	return places[best]
}

// At is the place of a section of so many bars in which the form begins with that
// bar, counted from 0, in its most usual variant.
func (f Form) At(bars, one int) Place {
	chords := strings.Split(f.variants[0], ", ")
	n := len(chords)
	p := Place{Form: f, First: (n-one%n)%n + 1, Sure: 1}
	for i := range bars {
		p.Chords = append(p.Chords, chords[(p.First-1+i)%n])
	}
	return p
}

// halfBars are what the halves of a bar say for each root, in semitones over the
// tonic.
type halfBars [2][12]float64

// halves takes the band's chords bar by bar. ok is false without bars or band.
func (s Sound) halves(bars Bars, notes []Note, key int) (out []halfBars, ok bool) {
	frames, bass := s.band(notes)
	if bass < someBass || len(bars.Firsts) == 0 {
		return nil, false
	}
	heard := s.hear(frames, bars.Beats, notes)
	for i, from := range bars.Firsts {
		to, length := len(heard), 4
		if i+1 < len(bars.Firsts) {
			to = bars.Firsts[i+1]
			length = to - from
		}
		var h halfBars
		for k, b := range heard[from:to] {
			treble, bass := b.chordEvidence(struckWeights)
			for r := range 12 {
				c := (key + r) % 12
				h[min(2*k/length, 1)][r] += likeness * (max(treble[c], treble[c+12]) + bass[c])
			}
		}
		out = append(out, h)
	}
	return out, true
}

// fit is the best variant of a form for bars that begin with bar at, and how well
// it fits.
func (f Form) fit(bars []halfBars, at int) (chords []string, best float64) {
	best = math.Inf(-1)
	for _, v := range f.variants {
		all := strings.Split(v, ", ")
		var as []string
		sum := 0.0
		for i, b := range bars {
			chord := all[(at-1+i)%len(all)]
			two := strings.Fields(chord)
			sum += b[0][roots[two[0]]] + b[1][roots[two[len(two)-1]]]
			as = append(as, chord)
		}
		if sum > best {
			chords, best = as, sum
		}
	}
	return chords, best
}

// free is how well chords chosen freely fit, bar by bar (Viterbi 1967).
func free(bars []halfBars) float64 {
	var total [12]float64
	for i, b := range bars {
		top := slices.Max(total[:]) - changeCost
		for r := range total {
			if i > 0 {
				total[r] = max(total[r], top)
			}
			total[r] += b[0][r] + b[1][r]
		}
	}
	return slices.Max(total[:])
}
