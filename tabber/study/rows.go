package study

import (
	"fmt"

	"blowdraw/onset/form"
	"blowdraw/tabber/tab"
)

// Row is a measure and where in a study it stands.
type Row struct {
	Part  string // one of Parts
	Table string
	Measure
}

// Rows are all measures of a study, in order. Answers and moves are counted as measures:
// how many notes they have in common, and how often they are played.
func Rows(s Study) []Row {
	all := Parts()
	var out []Row
	add := func(part, table string, list []Measure) {
		for _, m := range list {
			out = append(out, Row{part, table, m})
		}
	}
	add(all[0], "shares", s.Notes.Shares)
	add(all[0], "phrase ends", s.Notes.Ends)
	add(all[0], "blue notes", s.Notes.Blue)
	for _, n := range s.Notes.Never {
		add(all[0], "never, at most", []Measure{{Name: n.Name, Value: n.AtMost, Unit: Share}})
	}
	add(all[1], "shares", s.Textures.Shares)
	add(all[1], "bars of the form", s.Textures.Bars)
	add(all[1], "changes", s.Textures.Changes)
	add(all[1], "double stops", s.Textures.Doubles)
	add(all[2], "lengths", s.Time.Lengths)
	add(all[2], "begins", s.Time.Begins)
	add(all[2], "ends", s.Time.Ends)
	add(all[2], "begins in the form", s.Time.InForm)
	add(all[2], "bars of the form", s.Time.Full)
	add(all[2], "beats", s.Time.Division)
	if s.Time.Beat != nil {
		add(all[2], "beats", []Measure{*s.Time.Beat})
	}
	for _, c := range s.Time.Cut {
		add(all[2], "ends on no note of the chord", []Measure{{
			Name: c.Degree, Over: c.Over, Value: c.Sure, Unit: Share, N: 1, Places: []Place{c.Place},
		}})
	}
	for _, a := range s.Answers {
		for _, l := range a.Likes {
			add(all[3], fmt.Sprintf("phrase %d of phrase %d", a.Phrase, a.Of), []Measure{{
				Name: l.What, Value: float64(l.Notes), Unit: Count, N: float64(l.Notes), P: given(l.P),
				Places: []Place{a.Called, a.Place},
			}})
		}
	}
	for _, m := range s.Moves {
		n := float64(len(m.Times))
		x := Measure{Name: m.Tab, Over: m.Degrees, Value: n, Unit: Count, N: n}
		for _, t := range m.Times {
			x.Places = append(x.Places, t.Place)
		}
		x.Expected = given(m.Chance)
		add(all[4], fmt.Sprintf("move %d", m.Number), append([]Measure{x}, m.InForm...))
		if m.Where != nil {
			add(all[4], fmt.Sprintf("move %d", m.Number), []Measure{*m.Where})
		}
	}
	add(all[5], "how often", s.Playing.Often)
	add(all[5], "how", s.Playing.How)
	add(all[5], "holes", s.Playing.Holes)
	return out
}

// InForm is a tab with bars in a form, or in none: bar 1 begins it, and bars that have no
// chord get that of the form's usual variant.
func InForm(d tab.Document, name string) tab.Document {
	d.Form = ""
	for _, f := range form.Forms() {
		if f.Name != name {
			continue
		}
		d.Form = name
		chords := f.At(f.Bars(), 0).Chords
		bars := append([]tab.Bar(nil), d.Bars...)
		for i, b := range bars {
			if b.Chord == "" {
				bars[i].Chord = chords[((b.Number-1)%len(chords)+len(chords))%len(chords)]
			}
		}
		d.Bars = bars
	}
	return d
}
