package main

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"blowdraw/tabber/study"
	"blowdraw/tabber/study/wording"
)

// studyPrinter writes a study as text.
type studyPrinter struct {
	*bytes.Buffer
	width int // in characters, 0: any
	solos int
}

// fewPlaces is how many places are named where lines may be of any length.
const fewPlaces = 4

func printStudy(b *bytes.Buffer, s study.Study, names []string, width int) {
	p := studyPrinter{b, width, s.Summary.Solos}
	for i, name := range names {
		if len(names) > 1 {
			name = fmt.Sprintf("%d  %s", i+1, name)
		}
		p.WriteString(shorten(name, max(width, 200)) + "\n")
	}
	p.WriteString("\n")
	for _, line := range wording.Summary(s.Summary) {
		p.say("", line)
	}
	p.notes(s)
	p.textures(s)
	p.time(s)
	p.answers(s)
	p.moves(s)
	p.playing(s)
}

// say writes words that fit the width, further lines indented by two.
func (p studyPrinter) say(lead, text string) {
	room := p.width
	if room > 0 {
		room = max(room-len(lead)-2, 20)
	}
	for i, line := range wrapped(text, room) {
		if i > 0 {
			line = "  " + line
		}
		p.WriteString(strings.TrimRight(lead+line, " ") + "\n")
	}
}

func (p studyPrinter) title(number int) {
	name := study.Parts()[number-1]
	p.WriteString(fmt.Sprintf("\n%d  %s\n\n", number, strings.ToUpper(name[:1])+name[1:]))
}

// places in words, as many as fit so many characters and not fewer than one; a room of 0 is
// for fewPlaces.
func (p studyPrinter) places(list []study.Place, room int) string {
	out := ""
	for i, x := range list {
		text := wording.Place(x, p.solos)
		more := ""
		if i+1 < len(list) {
			more = ", …"
		}
		if i > 0 {
			text = ", " + text
		}
		if i > 0 && (room > 0 && utf8.RuneCountInString(out+text+more) > room || room == 0 && i == fewPlaces) {
			return out + ", …"
		}
		out += text
	}
	return out
}

// table writes rows with their places in a last column, below the row if there is hardly
// room beside it.
func (p studyPrinter) table(head []string, rows [][]string, places [][]study.Place) {
	const leastRoom = 22
	used := 0
	for _, w := range columnWidths(append([][]string{head}, rows...)) {
		used += w + columnGap
	}
	room := 0
	if p.width > 0 {
		room = p.width - used
	}
	if p.width > 0 && room < leastRoom {
		var b bytes.Buffer
		printColumnsWithin(&b, append([][]string{head}, rows...), len(head), p.width)
		p.Write(b.Bytes())
		for i, list := range places {
			if len(list) > 0 {
				p.WriteString("  " + rows[i][0] + ": " +
					p.places(list, max(p.width-4-utf8.RuneCountInString(rows[i][0]), 1)) + "\n")
			}
		}
		return
	}
	out := [][]string{append(slices.Clone(head), "heard at")}
	for i, r := range rows {
		out = append(out, append(slices.Clone(r), p.places(places[i], room)))
	}
	printColumns(p.Buffer, out)
}

// findings are the measures beyond chance, each with its places.
func (p studyPrinter) findings(lists ...[]study.Measure) {
	lead := "\n"
	for _, m := range slices.Concat(lists...) {
		if !m.Beyond() {
			continue
		}
		p.WriteString(lead)
		lead = ""
		p.say("  ", wording.Finding(m))
		if len(m.Places) > 0 && m.Value > *m.Expected {
			p.say("    ", p.places(m.Places, 3*max(p.width-8, 0)))
		}
	}
}

// over are the values of a name over "", and the chords, as cells; blank where there are
// none.
func over(list []study.Measure, name string, chords []string) (cells []string, whole study.Measure) {
	for _, c := range chords {
		cell := ""
		for _, m := range list {
			if m.Name != name || m.Over != c {
				continue
			}
			cell = wording.Percent(m.Value)
			if m.Beyond() && m.Value > *m.Expected {
				cell += "+"
			} else if m.Beyond() {
				cell += "-"
			}
			if c == "" {
				whole = m
			}
		}
		cells = append(cells, cell)
	}
	return cells, whole
}

// unknown are the shares that no name has, over each chord; nil if there are hardly any.
func unknown(list []study.Measure, chords []string) []string {
	var out []string
	much := false
	for _, c := range chords {
		rest := 1.0
		for _, m := range list {
			if m.Over == c {
				rest -= m.Value
			}
		}
		out = append(out, wording.Percent(rest))
		much = much || rest > 0.02
	}
	if !much {
		return nil
	}
	return out
}

// chordsIn are the chords of measures, in order, the whole first.
func chordsIn(list []study.Measure) []string {
	var out []string
	for _, m := range list {
		if !slices.Contains(out, m.Over) {
			out = append(out, m.Over)
		}
	}
	return out
}

func named(chords []string) []string {
	out := slices.Clone(chords)
	for i, c := range out {
		if c == "" {
			out[i] = "whole"
		}
	}
	return out
}

func (p studyPrinter) notes(s study.Study) {
	p.title(1)
	chords := chordsIn(s.Notes.Shares)
	head := slices.Concat([]string{"degree"}, named(chords), []string{"phrases end"})
	var rows [][]string
	var places [][]study.Place
	for _, name := range study.Degrees() {
		cells, whole := over(s.Notes.Shares, name, chords)
		end, _ := over(s.Notes.Ends, name, []string{""})
		if strings.Join(cells, "")+end[0] == "" {
			continue
		}
		rows = append(rows, slices.Concat([]string{name}, cells, end))
		places = append(places, whole.Places)
	}
	if cells := unknown(s.Notes.Shares, chords); cells != nil {
		rows, places = append(rows, slices.Concat([]string{"?"}, cells, []string{""})), append(places, nil)
	}
	p.table(head, rows, places)
	if len(chords) > 1 {
		p.endsOver(s, chords)
	}
	p.findings(s.Notes.Shares)
	p.endFindings(s.Notes.Ends)
	p.blue(s)
	if line := wording.Never(s.Notes.Never); line != "" {
		p.WriteString("\n")
		p.say("", line+".")
	}
}

// endsOver are the degrees that phrases end on over each chord.
func (p studyPrinter) endsOver(s study.Study, chords []string) {
	lead := "\n"
	for _, c := range chords[1:] {
		var ends []string
		for _, m := range s.Notes.Ends {
			if m.Over == c && m.N >= 0.5 {
				ends = append(ends, fmt.Sprintf("%s (%s)", m.Name, wording.Number(m.N)))
			}
		}
		if len(ends) > 0 {
			p.WriteString(lead)
			lead = ""
			p.say("", fmt.Sprintf("Phrases that end over %s end on %s.", c, strings.Join(ends, ", ")))
		}
	}
}

func (p studyPrinter) endFindings(list []study.Measure) {
	var out []study.Measure
	for _, m := range list {
		if m.Name = "phrases that end on " + m.Name; m.Beyond() {
			out = append(out, m)
		}
	}
	p.findings(out)
}

func (p studyPrinter) blue(s study.Study) {
	if len(s.Notes.Blue) == 0 {
		return
	}
	p.WriteString("\n")
	var rows [][]string
	var places [][]study.Place
	for _, m := range s.Notes.Blue {
		name := "blue " + m.Name
		at := m.Places
		if n := len(rows); n > 0 && slices.ContainsFunc(rows, func(r []string) bool { return r[0] == name }) {
			name, at = "", nil
		}
		rows = append(rows, []string{name, fmt.Sprintf("%.0f", m.N), m.Over, wording.Value(m.Value, m.Unit),
			wording.Quartiles(m)})
		places = append(places, at)
	}
	p.table([]string{"", "notes", "", "median", "middle half"}, rows, places)
	if !s.Summary.Measured {
		p.say("", wording.Unmeasured)
	}
}

func (p studyPrinter) textures(s study.Study) {
	p.title(2)
	chords := chordsIn(s.Textures.Shares)
	var rows [][]string
	var places [][]study.Place
	for _, name := range namesIn(s.Textures.Shares) {
		cells, whole := over(s.Textures.Shares, name, chords)
		rows = append(rows, append([]string{name}, cells...))
		places = append(places, whole.Places)
	}
	if cells := unknown(s.Textures.Shares, chords); cells != nil {
		rows, places = append(rows, append([]string{"?"}, cells...)), append(places, nil)
	}
	p.table(append([]string{"texture"}, named(chords)...), rows, places)
	p.findings(s.Textures.Shares, s.Textures.Bars)
	p.sentences(s.Textures.Changes, "", wording.Change)
	if len(s.Textures.Doubles) == 0 {
		return
	}
	p.WriteString("\n")
	rows, places = nil, nil
	for _, m := range s.Textures.Doubles[:min(len(s.Textures.Doubles), mostDoubles)] {
		if m.N < 0.5 {
			continue
		}
		rows = append(rows, []string{m.Name, m.Over, fmt.Sprintf("%.0f", m.N), wording.Percent(m.Value)})
		places = append(places, m.Places)
	}
	p.table([]string{"double stop", "degrees", "times", "of them"}, rows, places)
}

// mostDoubles is how many double stops are listed in text.
const mostDoubles = 8

func namesIn(list []study.Measure) []string {
	var out []string
	for _, m := range list {
		if !slices.Contains(out, m.Name) {
			out = append(out, m.Name)
		}
	}
	return out
}

// sentences about measures, with their places, after an empty line; those that say nothing are
// left out.
func (p studyPrinter) sentences(list []study.Measure, indent string, text func(study.Measure) string) {
	lead := "\n"
	for _, m := range list {
		said := text(m)
		if said == "" {
			continue
		}
		p.WriteString(lead)
		lead = ""
		p.say(indent, said)
		if len(m.Places) > 0 {
			p.say("    ", p.places(m.Places, 2*max(p.width-8, 0)))
		}
	}
}

func (p studyPrinter) time(s study.Study) {
	p.title(3)
	t := s.Time
	var rows [][]string
	var places [][]study.Place
	for _, m := range t.Lengths {
		rows = append(rows, []string{m.Name, fmt.Sprintf("%.0f", m.N), wording.Value(m.Value, m.Unit),
			wording.Quartiles(m)})
		places = append(places, m.Places)
	}
	p.table([]string{"", "", "median", "middle half"}, rows, places)
	if len(t.Begins) > 0 {
		p.WriteString("\n")
		rows, places = nil, nil
		for i, m := range t.Begins {
			rows = append(rows, []string{m.Name, counted(m), counted(t.Ends[i])})
			places = append(places, m.Places)
		}
		p.table([]string{"phrases", "begin", "end"}, rows, places)
		if t.BeginsP != nil {
			p.say("", wording.Uneven(t))
		}
	}
	p.formBars(s)
	p.findings(t.Full)
	if len(t.Division) > 0 {
		p.WriteString("\n")
		rows, places = nil, nil
		for _, m := range t.Division {
			rows = append(rows, []string{m.Name, counted(m)})
			places = append(places, m.Places)
		}
		p.table([]string{"in the beat", "notes begin"}, rows, places)
		for _, line := range []string{wording.Feel(t), wording.Late(t)} {
			if line != "" {
				p.say("", line+".")
			}
		}
	}
	if len(t.Cut) > 0 {
		p.WriteString("\n")
		p.say("", fmt.Sprintf("%d of %s end on no note of the chord:", len(t.Cut),
			count(s.Summary.Phrases, "phrase")))
		for _, c := range t.Cut {
			p.say("  ", wording.Place(c.Place, p.solos)+"  "+wording.Cut(c))
		}
	}
}

func counted(m study.Measure) string {
	if m.N == 0 {
		return ""
	}
	return fmt.Sprintf("%.0f (%s)", m.N, wording.Percent(m.Value))
}

// formBars are the bars of the form side by side.
func (p studyPrinter) formBars(s study.Study) {
	if len(s.Time.Full) == 0 {
		return
	}
	p.WriteString("\n")
	rows := [][]string{{"bar of the form"}, {"full"}, {"phrases begin"}}
	for k, m := range s.Time.Full {
		rows[0] = append(rows[0], fmt.Sprint(k+1))
		rows[1] = append(rows[1], wording.Percent(m.Value))
		begin := ""
		if n := s.Time.InForm[k].Value; n > 0 {
			begin = fmt.Sprintf("%.0f", n)
		}
		rows[2] = append(rows[2], begin)
	}
	if slices.ContainsFunc(s.Textures.Bars, func(m study.Measure) bool { return m.Value > 0 }) {
		row := []string{"of it rough"}
		for _, m := range s.Textures.Bars {
			row = append(row, wording.Percent(m.Value))
		}
		rows = append(rows, row)
	}
	printColumnsWithin(p.Buffer, rows, 1+(len(rows[0])-1)/2, p.width)
}

func (p studyPrinter) answers(s study.Study) {
	p.title(4)
	switch {
	case s.Summary.Short:
		p.say("", "Too short to tell an answer from chance.")
	case len(s.Answers) == 0:
		p.say("", "No phrase takes up one of the four before it by more than chance.")
	}
	for _, a := range s.Answers {
		p.say("", wording.Answer(a))
		p.say("    ", p.places([]study.Place{a.Called, a.Place}, max(p.width-4, 0)))
	}
}

func (p studyPrinter) moves(s study.Study) {
	p.title(5)
	switch {
	case s.Summary.Short:
		p.say("", "Too short to tell a move from chance.")
	case len(s.Moves) == 0:
		p.say("", "Nothing comes back by more than chance.")
	}
	for i, m := range s.Moves {
		if i > 0 {
			p.WriteString("\n")
		}
		p.say("", fmt.Sprintf("Move %d: %s", m.Number, m.Name))
		for _, line := range wording.MoveLines(m) {
			p.under(line[0], line[1])
		}
		var at []study.Place
		for _, t := range m.Times {
			at = append(at, t.Place)
		}
		p.under("heard at", p.places(at, 4*max(p.width-12, 0)))
	}
}

// under writes what something is and its words beside it.
func (p studyPrinter) under(what, text string) {
	const beside = 12
	room := p.width
	if room > 0 {
		room = max(room-beside, 20)
	}
	for i, line := range wrapped(text, room) {
		if i > 0 {
			what = ""
		}
		p.WriteString(strings.TrimRight(fmt.Sprintf("  %-*s%s", beside-2, what, line), " ") + "\n")
	}
}

func (p studyPrinter) playing(s study.Study) {
	p.title(6)
	if len(s.Playing.Often) == 0 {
		p.say("", "The tab has no marks.")
		return
	}
	var rows [][]string
	var places [][]study.Place
	for _, m := range s.Playing.Often {
		rows = append(rows, []string{m.Name, fmt.Sprintf("%.0f", m.N), wording.Value(m.Value, m.Unit)})
		places = append(places, m.Places)
	}
	p.table([]string{"mark", "times", "in 100 notes"}, rows, places)
	if len(s.Playing.How) > 0 {
		p.WriteString("\n")
		rows = nil
		for _, m := range s.Playing.How {
			rows = append(rows, []string{m.Name, m.Over, wording.Value(m.Value, m.Unit), wording.Quartiles(m),
				fmt.Sprintf("%.0f", m.N)})
		}
		printColumns(p.Buffer, append([][]string{{"", "", "median", "middle half", "measured"}}, rows...))
	}
	p.sentences(s.Playing.Holes, "  ", wording.Hole)
	if !s.Summary.Measured {
		p.WriteString("\n")
		p.say("", wording.UnmeasuredMarks)
	}
}

// printBeside writes two players side by side.
func printBeside(b *bytes.Buffer, x study.Beside, a, other []string, width int) {
	p := studyPrinter{b, width, 1}
	for _, side := range []struct {
		name  string
		names []string
		sum   study.Summary
	}{{"A", a, x.A.Summary}, {"B", other, x.B.Summary}} {
		p.say("", side.name+"  "+strings.Join(side.names, ", "))
		p.say("   ", wording.Summary(side.sum)[0])
		p.say("   ", fmt.Sprintf("%.0f%% of the sounding time is sure.", 100*side.sum.Known))
	}
	p.WriteString("\n")
	p.say("", wording.Beside(x.Differences))
	for i, part := range study.Parts() {
		var rows [][]string
		for _, d := range x.Differences {
			if d.Part == part && wording.ShownBeside(d) {
				rows = append(rows, besideRow(d))
			}
		}
		if len(rows) > 0 {
			p.title(i + 1)
			printColumns(b, append([][]string{{"", "A", "B", "", ""}}, rows...))
			p.besidePlaces(x, part)
		}
	}
}

// besidePlaces are the phrases in which what differs is heard most.
func (p studyPrinter) besidePlaces(x study.Beside, part string) {
	lead := "\n"
	for _, d := range x.Differences {
		if d.Part != part || !d.Beyond() {
			continue
		}
		p.WriteString(lead)
		lead = ""
		p.say("", wording.DifferenceName(d))
		for _, side := range []struct {
			name   string
			solos  int
			places []study.Place
		}{{"A", x.A.Summary.Solos, d.PlacesA}, {"B", x.B.Summary.Solos, d.PlacesB}} {
			if len(side.places) > 0 {
				p.solos = side.solos
				p.say("    ", side.name+"  "+p.places(side.places, 2*max(p.width-12, 0)))
			}
		}
	}
}

func besideRow(d study.Difference) []string {
	value := func(v float64) string {
		if v == 0 {
			return "0"
		}
		return wording.Value(v, d.Unit)
	}
	star, p := "", ""
	if d.Beyond() {
		star, p = "*", wording.Chance(*d.P)
	}
	return []string{wording.DifferenceName(d), value(d.A), value(d.B), star, p}
}
