// Package studypage writes a study as one HTML file that needs no network: its numbers as
// tables of shades, the bars of the form by how full they are, the moves as cards. If the
// recordings are given each line plays its places.
package studypage

import (
	"embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"slices"

	"blowdraw/tabber/page"
	"blowdraw/tabber/study"
	"blowdraw/tabber/study/wording"
	"blowdraw/tabber/tab"
)

// Solo is a solo of a page, and its recording.
type Solo struct {
	Name    string
	From    float64   // where Samples begin, seconds from the start of the recording
	Rate    int       // of Samples, Hz
	Samples []float64 // mono; none: it can't be heard
}

// Player is a study and its solos, in their order.
type Player struct {
	Study study.Study
	Solos []Solo
}

//go:embed study.html study.css study.js
var files embed.FS

var pageTemplate = template.Must(template.ParseFS(files, "study.html"))

// content fills the template.
type content struct {
	Title, Policy string
	Style         template.CSS
	Script        template.JS
	Sounds        []soundView
	Beside        []besidePart // what differs; none for one player
	BesideSaid    string
	Players       []playerView
	Plays         bool // some solo can be heard
}

type soundView struct {
	Number int
	From   float64
	Data   template.JS
}

// Write writes the page of one player.
func Write(w io.Writer, p Player) error { return write(w, []Player{p}, nil) }

// WriteBeside writes the page of two players side by side.
func WriteBeside(w io.Writer, a, b Player, differences []study.Difference) error {
	return write(w, []Player{a, b}, differences)
}

func write(w io.Writer, players []Player, differences []study.Difference) error {
	c := content{
		Title: "What a solo is made of", Style: template.CSS(page.Palette() + read("study.css")),
		Script: template.JS("\"use strict\";\n{\n" + read("study.js") + "}\n"),
	}
	total := 0
	for i, p := range players {
		first := len(c.Sounds)
		for _, s := range p.Solos {
			v := soundView{Number: first, From: s.From, Data: `""`}
			if len(s.Samples) > 0 {
				var err error
				if v.Data, err = page.Sound(s.Rate, s.Samples); err != nil {
					return fmt.Errorf("writing the page: %w", err)
				}
				c.Plays = true
			}
			if total += len(v.Data) * 3 / 4; total > page.MostBytes {
				return fmt.Errorf("writing the page: %w", &page.TooLongError{Bytes: total})
			}
			c.Sounds = append(c.Sounds, v)
		}
		name := ""
		if len(players) > 1 {
			name = string(rune('A' + i))
		}
		v := viewer{solos: len(p.Solos), first: first, sounds: p.Solos}
		c.Players = append(c.Players, v.player(name, p))
	}
	for i := range c.Sounds {
		c.Sounds[i].Number = i
	}
	if len(players) > 1 {
		c.Beside, c.BesideSaid = beside(players, differences)
	}
	c.Policy = page.Policy("blob:", string(c.Style), string(c.Script))
	if err := pageTemplate.Execute(w, c); err != nil {
		return fmt.Errorf("writing the page: %w", err)
	}
	return nil
}

// read one of the files that are part of the program.
func read(name string) string {
	b, err := files.ReadFile(name)
	if err != nil {
		panic(err)
	}
	return string(b)
}

// What the template shows.
type (
	playerView struct {
		Name            string
		Solos           []string
		Summary         []string
		Short           bool
		Notes, Textures *shades
		NoteLines       []line
		NoteSaid        []string
		Blue            *table
		TextureLines    []line
		Doubles         *table
		Lengths         *table
		Begins          *table
		Bars            []barView
		TimeSaid        []string
		TimeLines       []line
		Division        *table
		Cut             []line
		Answers         []line
		Moves           []moveView
		Marks           *table
		How             *table
		MarkLines       []line
		PlayingSaid     []string
	}
	// shades is a table whose cells are darker the larger they are.
	shades struct {
		Corner string
		Head   []string
		Rows   []shadeRow
	}
	shadeRow struct {
		Name  string
		Cells []cell
	}
	cell struct {
		Text, Title, Sign string
		Shade             int // 0 to 10
		Places            []placeView
	}
	table struct {
		Head []string
		Rows []row
	}
	row struct {
		Cells  []string
		Places []placeView
	}
	line struct {
		Text   string
		Places []placeView
	}
	placeView struct {
		Text     string
		Sound    int // -1: it can't be heard
		From, To float64
	}
	barView struct {
		Number             int
		Chord, Full, Begin string
		Title              string
		High, Rough        float64 // percent of the box
		Places             []placeView
	}
	moveView struct {
		Number int
		Name   string
		Steps  []stepView
		Beats  []float64 // lines of the picture, percent of its width
		Facts  [][2]string
		Places []placeView
	}
	stepView struct {
		Tab, Degree string
		Draw        bool
		Left, Wide  float64 // percent
		Y           int     // of the label in pixels, so that neighbours do not cover each other
	}
	besidePart struct {
		Name string
		Rows []besideRow
	}
	besideRow struct {
		Name, A, B, P    string
		WideA, WideB     float64 // of bars, percent
		Beyond           bool
		PlacesA, PlacesB []placeView
	}
)

// viewer makes what the template shows of one player.
type viewer struct {
	solos, first int
	sounds       []Solo
}

func (v viewer) places(list []study.Place) []placeView {
	var out []placeView
	for _, p := range list {
		x := placeView{Text: wording.Place(p, v.solos), Sound: -1, From: p.From, To: p.To}
		if p.Solo < len(v.sounds) && len(v.sounds[p.Solo].Samples) > 0 {
			x.Sound = v.first + p.Solo
		}
		out = append(out, x)
	}
	return out
}

func (v viewer) player(name string, p Player) playerView {
	s := p.Study
	out := playerView{Name: name, Summary: wording.Summary(s.Summary), Short: s.Summary.Short}
	for i, x := range p.Solos {
		label := tab.OneLine(x.Name)
		if len(p.Solos) > 1 {
			label = fmt.Sprintf("%d: %s", i+1, label)
		}
		out.Solos = append(out.Solos, label)
	}
	v.notes(&out, s)
	v.textures(&out, s)
	v.time(&out, s)
	for _, a := range s.Answers {
		out.Answers = append(out.Answers, line{wording.Answer(a), v.places([]study.Place{a.Called, a.Place})})
	}
	for _, m := range s.Moves {
		out.Moves = append(out.Moves, v.move(m))
	}
	v.playing(&out, s)
	return out
}

// shadesOf measures by name and by what they are over.
func (v viewer) shadesOf(corner string, list, extra []study.Measure, extraName string) *shades {
	out := &shades{Corner: corner}
	var names, overs []string
	index := map[[2]string]study.Measure{}
	for _, m := range list {
		if !slices.Contains(names, m.Name) {
			names = append(names, m.Name)
		}
		if !slices.Contains(overs, m.Over) {
			overs = append(overs, m.Over)
		}
		index[[2]string{m.Name, m.Over}] = m
	}
	for _, o := range overs {
		if o == "" {
			o = "whole"
		}
		out.Head = append(out.Head, o)
	}
	if len(extra) > 0 {
		out.Head = append(out.Head, extraName)
	}
	most := 0.0
	for _, m := range list {
		most = max(most, m.Value)
	}
	for _, name := range names {
		r := shadeRow{Name: name}
		sum := 0.0
		for _, o := range overs {
			m := index[[2]string{name, o}]
			r.Cells = append(r.Cells, v.cell(m, most))
			sum += m.Value
		}
		if len(extra) > 0 {
			c := cell{}
			for _, m := range extra {
				if m.Name == name && m.Over == "" {
					c = v.cell(m, 1)
					sum += m.Value
				}
			}
			r.Cells = append(r.Cells, c)
		}
		if sum > 0 {
			out.Rows = append(out.Rows, r)
		}
	}
	if len(out.Rows) == 0 {
		return nil
	}
	return out
}

func (v viewer) cell(m study.Measure, most float64) cell {
	c := cell{Text: wording.Percent(m.Value), Places: v.places(m.Places)}
	if most > 0 {
		c.Shade = int(math.Ceil(10 * m.Value / most))
	}
	c.Title = fmt.Sprintf("%s notes", wording.Number(m.N))
	if m.P != nil {
		c.Title += fmt.Sprintf("; by chance %s, %s", wording.Percent(*m.Expected), wording.Chance(*m.P))
	}
	if m.Beyond() {
		if c.Sign = "more"; m.Value < *m.Expected {
			c.Sign = "less"
		}
	}
	return c
}

func (v viewer) findings(lists ...[]study.Measure) []line {
	var out []line
	for _, list := range lists {
		for _, m := range list {
			if m.Beyond() {
				out = append(out, line{wording.Finding(m), v.places(m.Places)})
			}
		}
	}
	return out
}

func (v viewer) notes(out *playerView, s study.Study) {
	out.Notes = v.shadesOf("degree", s.Notes.Shares, s.Notes.Ends, "phrases end")
	ends := make([]study.Measure, len(s.Notes.Ends))
	for i, m := range s.Notes.Ends {
		ends[i] = m
		ends[i].Name = "phrases that end on " + m.Name
	}
	out.NoteLines = v.findings(s.Notes.Shares, ends)
	if never := wording.Never(s.Notes.Never); never != "" {
		out.NoteSaid = append(out.NoteSaid, never+".")
	}
	out.Blue = v.spreads([]string{"blue", "", "notes", "median", "middle half"}, s.Notes.Blue)
	if out.Blue != nil && !s.Summary.Measured {
		out.NoteSaid = append(out.NoteSaid, wording.Unmeasured)
	}
}

// spreads is a table of measures by their quartiles.
func (v viewer) spreads(head []string, list []study.Measure) *table {
	if len(list) == 0 {
		return nil
	}
	t := &table{Head: head}
	for i, m := range list {
		r := row{
			[]string{m.Name, m.Over, wording.Number(m.N), wording.Value(m.Value, m.Unit), wording.Quartiles(m)},
			v.places(m.Places),
		}
		if i > 0 && list[i-1].Name == m.Name { // the same notes
			r.Cells[0], r.Places = "", nil
		}
		t.Rows = append(t.Rows, r)
	}
	return t
}

// mostDoubles is how many double stops are listed.
const mostDoubles = 10

func (v viewer) textures(out *playerView, s study.Study) {
	out.Textures = v.shadesOf("texture", s.Textures.Shares, nil, "")
	out.TextureLines = v.findings(s.Textures.Shares, s.Textures.Bars)
	for _, m := range s.Textures.Changes {
		if text := wording.Change(m); text != "" {
			out.TextureLines = append(out.TextureLines, line{text, v.places(m.Places)})
		}
	}
	for _, m := range s.Textures.Doubles[:min(len(s.Textures.Doubles), mostDoubles)] {
		if out.Doubles == nil {
			out.Doubles = &table{Head: []string{"double stop", "degrees", "times", "of them"}}
		}
		out.Doubles.Rows = append(out.Doubles.Rows, row{
			[]string{m.Name, m.Over, wording.Number(m.N), wording.Percent(m.Value)}, v.places(m.Places),
		})
	}
}

func (v viewer) time(out *playerView, s study.Study) {
	t := s.Time
	out.Lengths = v.spreads([]string{"", "", "how many", "median", "middle half"}, t.Lengths)
	for i, m := range t.Begins {
		if out.Begins == nil {
			out.Begins = &table{Head: []string{"phrases", "begin", "end"}}
		}
		out.Begins.Rows = append(out.Begins.Rows, row{
			[]string{m.Name, counted(m), counted(t.Ends[i])}, v.places(m.Places),
		})
	}
	if t.BeginsP != nil {
		out.TimeSaid = append(out.TimeSaid, wording.Uneven(t))
	}
	out.TimeLines = v.findings(t.Full)
	for k, m := range t.Full {
		b := barView{
			Number: k + 1, Full: wording.Percent(m.Value), High: 100 * m.Value, Places: v.places(m.Places),
			Begin: wording.Number(t.InForm[k].Value),
		}
		if k < len(s.Summary.FormChords) {
			b.Chord = s.Summary.FormChords[k]
		}
		b.Title = fmt.Sprintf("bar %d: %s full", k+1, b.Full)
		if k < len(s.Textures.Bars) {
			b.Rough = b.High * s.Textures.Bars[k].Value
			b.Title += fmt.Sprintf(", %s of it rough", wording.Percent(s.Textures.Bars[k].Value))
		}
		out.Bars = append(out.Bars, b)
	}
	for _, m := range t.Division {
		if out.Division == nil {
			out.Division = &table{Head: []string{"in the beat", "notes begin"}}
		}
		out.Division.Rows = append(out.Division.Rows, row{[]string{m.Name, counted(m)}, v.places(m.Places)})
	}
	for _, text := range []string{wording.Feel(t), wording.Late(t)} {
		if text != "" {
			out.TimeSaid = append(out.TimeSaid, text+".")
		}
	}
	for _, c := range t.Cut {
		out.Cut = append(out.Cut, line{wording.Cut(c), v.places([]study.Place{c.Place})})
	}
}

func counted(m study.Measure) string {
	if m.N == 0 {
		return ""
	}
	return fmt.Sprintf("%s (%s)", wording.Number(m.N), wording.Percent(m.Value))
}

// drawn is how much of its picture, in percent of the width, a move takes; the rest is for
// its last label.
const drawn = 88

func (v viewer) move(m study.Move) moveView {
	out := moveView{Number: m.Number, Name: m.Name}
	for _, f := range wording.MoveLines(m) {
		if f[0] != "tab" && f[0] != "degrees" { // which the picture shows
			out.Facts = append(out.Facts, f)
		}
	}
	var places []study.Place
	for _, t := range m.Times {
		places = append(places, t.Place)
	}
	out.Places = v.places(places)
	end := 0.01
	for _, x := range m.Notes {
		end = max(end, x.To)
	}
	// A label goes to a lower row where it would cover the one before it.
	const narrow, letter, high = 5, 4, 36 // percent of the width: its margin, a letter; pixels: a row
	taken := [3]float64{-1, -1, -1}
	for _, x := range m.Notes {
		s := stepView{Tab: x.Tab, Degree: x.Degree, Draw: x.Draw, Left: drawn * x.From / end}
		s.Wide = drawn*x.To/end - s.Left
		lane := 0
		for lane < len(taken)-1 && s.Left < taken[lane] {
			lane++
		}
		s.Y = 18 + lane*high
		taken[lane] = s.Left + narrow + letter*float64(len(x.Tab))
		out.Steps = append(out.Steps, s)
	}
	for beat := 1.0; beat < end; beat++ {
		out.Beats = append(out.Beats, drawn*beat/end)
	}
	return out
}

func (v viewer) playing(out *playerView, s study.Study) {
	for _, m := range s.Playing.Often {
		if out.Marks == nil {
			out.Marks = &table{Head: []string{"mark", "times", "in 100 notes"}}
		}
		out.Marks.Rows = append(out.Marks.Rows, row{
			[]string{m.Name, wording.Number(m.N), wording.Value(m.Value, m.Unit)}, v.places(m.Places),
		})
	}
	out.How = v.spreads([]string{"mark", "", "measured", "median", "middle half"}, s.Playing.How)
	for _, m := range s.Playing.Holes {
		if text := wording.Hole(m); text != "" {
			out.MarkLines = append(out.MarkLines, line{text, v.places(m.Places)})
		}
	}
	if !s.Summary.Measured && out.Marks != nil {
		out.PlayingSaid = append(out.PlayingSaid, wording.UnmeasuredMarks)
	}
}

// beside are the measures of two players by part.
func beside(players []Player, differences []study.Difference) ([]besidePart, string) {
	a := viewer{len(players[0].Solos), 0, players[0].Solos}
	b := viewer{len(players[1].Solos), len(players[0].Solos), players[1].Solos}
	var out []besidePart
	for _, part := range study.Parts() {
		p := besidePart{Name: part}
		for _, d := range differences {
			if d.Part != part || !wording.ShownBeside(d) {
				continue
			}
			r := besideRow{
				Name: wording.DifferenceName(d), A: wording.Some(d.A, d.Unit), B: wording.Some(d.B, d.Unit),
				Beyond: d.Beyond(), PlacesA: a.places(d.PlacesA), PlacesB: b.places(d.PlacesB),
			}
			if d.Beyond() {
				r.P = wording.Chance(*d.P)
			}
			if most := max(math.Abs(d.A), math.Abs(d.B)); most > 0 {
				r.WideA, r.WideB = 100*math.Abs(d.A)/most, 100*math.Abs(d.B)/most
			}
			p.Rows = append(p.Rows, r)
		}
		if len(p.Rows) > 0 {
			out = append(out, p)
		}
	}
	return out, wording.Beside(differences)
}
