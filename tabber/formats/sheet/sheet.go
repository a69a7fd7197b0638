// Package sheet writes a tab to be handed out: as Markdown, and as an HTML page that
// prints well and loads nothing.
package sheet

import (
	"bufio"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"blowdraw/tabber/formats"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/tab"
	"blowdraw/tabber/tab/grid"
)

// page is what is on a sheet.
type page struct {
	Title, Harp string
	Phrases     []phrase
	Counted     bool // there are bars and beats above the tab
	Legend      []sign
}

type phrase struct {
	Number int
	Start  string // minutes and seconds
	Cells  []cell
	Notes  []string // the reader's own comments
}

// cell is one event. Bar is the number of the bar that begins with it or before it
// with its chords, empty if none does. Beat is the beat that it begins on, a dot if it begins between
// beats, empty if the tab has no bars. Width grows with its length, in em.
type cell struct {
	Tab      string
	Bar      string
	Beat     string
	Marks    string // how it is played
	Doubtful bool
	Width    float64
}

// sign is a line of the legend.
type sign struct{ Sign, Meaning string }

func pageOf(d tab.Document) page {
	g := grid.Of(d)
	spans := g.Spans(d)
	p := page{Title: tab.OneLine(formats.Title(d)), Harp: formats.HarpLine(d), Counted: g.Known,
		Legend: legend(d, g.Known)}
	lastBar := math.MinInt
	remarks := d.Remarks
	for n, events := range phrasing.Groups(d) {
		ph := phrase{Number: n + 1, Start: tab.ShortClock(d.Events[events[0]].Start)}
		for len(remarks) > 0 && remarks[0].Before <= events[len(events)-1] {
			ph.note(remarks[0].Text)
			remarks = remarks[1:]
		}
		for _, i := range events {
			e := d.Events[i]
			c := cell{Tab: formats.Label(d, e), Marks: e.MarkText(), Doubtful: e.Doubtful()}
			beats := g.At(e.End) - g.At(e.Start)
			c.Width = math.Round(10*min(1.5+2.2*beats, 8)) / 10
			if g.Known {
				c.Beat, c.Bar = place(d, g, spans[i].From, &lastBar)
			}
			ph.Cells = append(ph.Cells, c)
			if e.Comment != "" {
				ph.note(c.Tab + ": " + strings.TrimSpace(e.Comment))
			}
		}
		p.Phrases = append(p.Phrases, ph)
	}
	return p
}

func (p *phrase) note(text string) {
	if text = strings.TrimSpace(tab.OneLine(text)); text != "" {
		p.Notes = append(p.Notes, text)
	}
}

// place tells the beat of a position in units, and its bar if that is not the last
// one told.
func place(d tab.Document, g grid.Grid, at int, last *int) (beat, bar string) {
	beats := int(math.Floor(float64(at) / grid.Unit))
	number := g.First + int(math.Floor(float64(beats)/float64(g.PerBar)))
	beat = "·"
	if at == beats*grid.Unit {
		beat = fmt.Sprint(beats - (number-g.First)*g.PerBar + 1)
	}
	if number != *last {
		bar = fmt.Sprint(number)
		for _, b := range d.Bars {
			if b.Number == number && b.Chord != "" {
				bar += "  " + b.Chord
			}
		}
	}
	*last = number
	return beat, bar
}

// legend explains the signs that occur.
func legend(d tab.Document, counted bool) []sign {
	var blow, draw, bend, over, several, doubt, foreign bool
	for _, e := range d.Events {
		for _, a := range e.Actions {
			blow, draw = blow || a.Breath == harp.Blow, draw || a.Breath == harp.Draw
			bend, over = bend || a.Bend > 0, over || a.Bend < 0
		}
		several, foreign = several || len(e.Actions) > 1, foreign || len(e.Actions) == 0
		doubt = doubt || e.Doubtful()
	}
	var out []sign
	for _, s := range []struct {
		occurs bool
		sign
	}{
		{blow, sign{"4", "blow hole 4"}},
		{draw, sign{"-4", "draw hole 4"}},
		{bend, sign{"'", "bend a semitone down; '' two"}},
		{over, sign{"6o", "overblow; with a minus overdraw"}},
		{several, sign{"[ ]", "together"}},
		{doubt, sign{formats.Doubt, "not sure: check by ear"}},
		{foreign, sign{"Bb4", "this note, which the harp does not have"}},
		{counted, sign{"1 · 2", "the beat that it begins on, or between beats; bars are numbered"}},
	} {
		if s.occurs {
			out = append(out, s.sign)
		}
	}
	for _, w := range tab.MarkWords() {
		if slices.ContainsFunc(d.Events, func(e tab.Event) bool {
			return slices.ContainsFunc(e.Marks, func(m tab.Mark) bool { return m.Name == w.Name })
		}) {
			out = append(out, sign{w.Name, w.Meaning})
		}
	}
	return out
}

//go:embed sheet.html
var pageText string

var pageTemplate = template.Must(template.New("sheet").Parse(pageText))

// WriteHTML writes a page to print.
func WriteHTML(w io.Writer, d tab.Document) error {
	if err := pageTemplate.Execute(w, pageOf(d)); err != nil {
		return fmt.Errorf("writing the sheet: %w", err)
	}
	return nil
}

// lineWidth is the longest line of tab in Markdown, in characters.
const lineWidth = 72

// WriteMarkdown writes a sheet as Markdown (CommonMark 0.31), the tab in code blocks.
func WriteMarkdown(w io.Writer, d tab.Document) error {
	p := pageOf(d)
	b := bufio.NewWriter(w)
	fmt.Fprintf(b, "# %s\n\n%s\n", escape(p.Title), escape(p.Harp))
	for _, ph := range p.Phrases {
		fmt.Fprintf(b, "\n**%d**  (%s)\n\n", ph.Number, ph.Start)
		for _, rows := range lines(ph.Cells) {
			for _, r := range rows {
				fmt.Fprintf(b, "    %s\n", r)
			}
		}
		for _, n := range ph.Notes {
			fmt.Fprintf(b, "\n*%s*\n", escape(n))
		}
	}
	if len(p.Legend) > 0 {
		b.WriteString("\n---\n\n")
	}
	for _, s := range p.Legend {
		fmt.Fprintf(b, "- `%s`  %s\n", s.Sign, s.Meaning)
	}
	if err := b.Flush(); err != nil {
		return fmt.Errorf("writing the sheet: %w", err)
	}
	return nil
}

// lines sets cells in columns: rows of bars and beats, if there are any, above a
// row of tab, and one of marks below, for each line.
func lines(cells []cell) [][]string {
	var out [][]string
	var bars, beats, tabs, marks strings.Builder
	flush := func() {
		rows := []string{strings.TrimRight(tabs.String(), " ")}
		if s := strings.TrimRight(marks.String(), " "); s != "" {
			rows = append(rows, s)
		}
		if s := strings.TrimRight(beats.String(), " "); s != "" {
			rows = append([]string{strings.TrimRight(bars.String(), " "), s}, rows...)
		}
		out = append(out, rows)
		bars.Reset()
		beats.Reset()
		tabs.Reset()
		marks.Reset()
	}
	for _, c := range cells {
		lead := ""
		if c.Bar != "" {
			lead = "| "
		}
		width := 2 + max(utf8.RuneCountInString(lead+c.Tab), len(c.Bar),
			len(lead)+utf8.RuneCountInString(c.Marks))
		if tabs.Len() > 0 && utf8.RuneCountInString(tabs.String())+width > lineWidth {
			flush()
		}
		pad := func(b *strings.Builder, s string) {
			b.WriteString(s + strings.Repeat(" ", max(0, width-utf8.RuneCountInString(s))))
		}
		pad(&bars, c.Bar)
		pad(&beats, strings.Repeat(" ", len(lead))+c.Beat)
		pad(&tabs, lead+c.Tab)
		pad(&marks, strings.Repeat(" ", len(lead))+c.Marks)
	}
	flush()
	return out
}

// escape keeps text from being read as Markdown or HTML.
func escape(s string) string {
	var b strings.Builder
	for _, r := range s {
		if strings.ContainsRune("\\`*_{}[]<>()#+-.!|&~\"'$:=@^", r) && !strings.ContainsRune("-.':()", r) {
			b.WriteByte('\\')
		}
		b.WriteRune(r)
	}
	return b.String()
}
