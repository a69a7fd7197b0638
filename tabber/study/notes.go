package study

import (
	"math"
	"slices"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// Notes says which notes are played over which chord.
type Notes struct {
	Shares []Measure `json:"shares"` // of sounding time, by degree, on the whole and over each chord
	Ends   []Measure `json:"ends"`   // of phrases that end on a degree, on the whole and over each chord
	Blue   []Measure `json:"blue"`   // thirds, fifths and sevenths below their major or perfect size
	Never  []Never   `json:"never"`  // degrees that are not touched
}

// Never is a degree that is not touched, and the share of notes that it has at most
// ([UpperBound]).
type Never struct {
	Name   string  `json:"name"`
	AtMost float64 `json:"at_most"`
}

// Degrees are the names of the twelve degrees, in semitones over the tonic.
func Degrees() []string {
	out := make([]string, 12)
	for n := range out {
		out[n] = harp.Degree(n, 0)
	}
	return out
}

func notes(solos []solo, sum Summary) Notes {
	of := func(x sound, degree int) float64 { return x.share(degree) }
	out := Notes{Shares: onTheWhole(solos, Degrees(), of), Never: []Never{}}
	for _, m := range out.Shares {
		if m.N < 0.5 && sum.Events > 0 && !sum.Short {
			out.Never = append(out.Never, Never{m.Name, tidy(UpperBound(sum.Known * float64(sum.Events)))})
		}
	}
	out.Shares = append(out.Shares, overChords(solos, Degrees(), of, !sum.Short, 1)...)
	out.Ends = ends(solos, sum)
	out.Blue = blue(solos)
	return out
}

// ends are the shares of phrases that end on each degree, held against the notes of those
// phrases: each might as well have ended on any of its own.
func ends(solos []solo, sum Summary) []Measure {
	lists := append([]string{""}, chordList(solos)...)
	var out []Measure
	for _, chord := range lists {
		if chord != "" && len(lists) < 3 {
			continue
		}
		out = append(out, endsOver(solos, chord, !sum.Short)...)
	}
	return out
}

func endsOver(solos []solo, chord string, test bool) []Measure {
	var p []float64
	out := make([]Measure, 0, 12)
	for degree, name := range Degrees() {
		m := Measure{Name: name, Over: chord, Unit: Share}
		var chances []float64
		var list []weighed
		count, mean := 0.0, 0.0
		for _, s := range solos {
			for _, f := range s.phrases {
				last := s.sounds[f.to-1]
				if chord != "" && last.chord != chord {
					continue
				}
				usual := 0.0
				for _, x := range s.sounds[f.from:f.to] {
					usual += x.share(degree) / float64(f.to-f.from)
				}
				chances = append(chances, usual)
				part := last.share(degree)
				count, mean = count+part, mean+usual
				if part >= 0.25 {
					list = append(list, weighed{last.place, last.seconds() * part})
				}
			}
		}
		if len(chances) == 0 {
			return nil
		}
		n := float64(len(chances))
		m.Value, m.N, m.Places = tidy(count/n), tidy(count), longest(list)
		m.Expected = given(mean / n)
		p = append(p, tails(PoissonBinomial(chances), count, mean))
		out = append(out, m)
	}
	for i, v := range Holm(p) {
		if out[i].P = given(v); !test {
			out[i].P, out[i].Expected = nil, nil
		}
	}
	return out
}

// blueNote is a degree that is sung and played lower than the major scale has it. Its
// pitches reach from a quarter tone below the minor, or diminished, size to a fifth of a
// semitone below the full one, in cents over the tonic (thirds, fifths and sevenths are
// the blue notes in Gotham et al., "Open Music Theory", chapter "Blues melodies and the
// blues scale": from memory; the limits are common practice, no source).
type blueNote struct {
	name string
	full float64 // cents over the tonic
}

var blueNotes = []blueNote{{"third", 400}, {"fifth", 700}, {"seventh", 1100}}

const (
	deepest = 150 // cents below the full size
	shallow = 20
)

// cents of a single reed over the tonic, 0 to 1200, as it was heard: its measured pitch,
// or where only the tab is known what that says, its mark of cents included.
func cents(d tab.Document, x sound) (over, bent float64, ok bool) {
	if len(x.Actions) != 1 || len(x.Pitches) != 1 {
		return 0, 0, false
	}
	a := x.Actions[0]
	nominal := float64(d.Harp.MIDI(a))
	pitch := x.Pitches[0] - d.TuningCents/100
	if m, marked := x.Mark(tab.OffPitch); marked && math.Abs(pitch-nominal) < 0.001 {
		pitch += m.Cents / 100
	}
	natural := nominal + float64(max(a.Bend, 0))
	over = math.Mod(100*(pitch-float64(d.SongKey)), 1200)
	return math.Mod(over+1200, 1200), 100 * (natural - pitch), true
}

// blue tells of thirds, fifths and sevenths how many are blue, how far below their full
// size, how far the reed is bent, and how long they are held.
func blue(solos []solo) []Measure {
	out := []Measure{}
	for _, note := range blueNotes {
		var below, bent, seconds []float64
		var list []weighed
		n := 0.0
		for _, s := range solos {
			for _, x := range s.sounds {
				over, down, ok := cents(s.Document, x)
				depth := note.full - over
				if !ok || depth < shallow || depth > deepest {
					continue
				}
				p := x.readings[0].p
				n += p
				if p < 0.5 {
					continue // too doubtful to measure
				}
				below, seconds = append(below, depth), append(seconds, x.seconds())
				if x.Actions[0].Bend > 0 {
					bent = append(bent, down)
				}
				list = append(list, weighed{x.place, x.seconds() * p})
			}
		}
		if len(below) == 0 {
			continue
		}
		places := longest(list)
		out = append(out,
			spread(note.name, "below full size", below, Cents, n, places),
			spread(note.name, "held", seconds, Seconds, n, places))
		if len(bent) > 0 {
			out = append(out, spread(note.name, "reed bent by", bent, Cents, float64(len(bent)), places))
		}
	}
	return out
}

// spread is a measure by its quartiles.
func spread(name, over string, values []float64, unit string, n float64, places []Place) Measure {
	low, middle, high := Quartiles(values)
	return Measure{
		Name: name, Over: over, Value: tidy(middle), Unit: unit, Low: given(low), High: given(high),
		N: tidy(n), Places: slices.Clone(places),
	}
}
