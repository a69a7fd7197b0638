package sheet

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"

	"blowdraw/tabber/tab"
)

//go:embed sheet.html
var pageText string

var pageTemplate = template.Must(template.New("sheet").Parse(pageText))

// WriteHTML writes a page to print, on A4 or Letter, and to read on a screen or phone.
func WriteHTML(w io.Writer, d tab.Document, opt Options) error {
	if err := pageTemplate.Execute(w, pageOf(d, opt)); err != nil {
		return fmt.Errorf("writing the sheet: %w", err)
	}
	return nil
}

// Style of a line: how many bars are beside each other, on a narrow screen half as many,
// the size of its tab, and the width of its widest bar, for which a screen may be too
// narrow.
func (l line) Style() template.CSS {
	return template.CSS(fmt.Sprintf("--across:%d;--narrow:%d;--size:%.1fpt;--em:%.2f", l.Across,
		max(1, l.Across/2), l.Size, max(l.Width, 1)))
}

// Style of a bar: its columns and rows.
func (b bar) Style() template.CSS {
	return template.CSS(fmt.Sprintf("grid-template-columns:%s;grid-template-rows:%s", b.Columns(), b.rows))
}

// rowHeights are the heights of a bar's rows, the same all along a line: label, number,
// chord, tab, names, marks, counts.
func (l line) rowHeights() string {
	row := func(there bool, height string) string {
		if there {
			return height
		}
		return "0"
	}
	return fmt.Sprintf("%s %s %s %.2fem %.2fem %s 0.72em",
		row(l.Titled, "calc(9.5pt * var(--k))"), row(!l.Timed, "calc(9.5pt * var(--k))"),
		row(l.Chorded, "calc(11.5pt * var(--k))"), 1.12*float64(l.Stack)+0.1, 0.63*float64(l.Named),
		row(l.Marked, "0.68em"))
}

// Rows are the heights of a phrase's rows, as [line.rowHeights].
func (p phrase) Rows() template.CSS {
	l := line{Timed: true, Bars: []bar{{}}}
	for _, c := range p.Cells {
		l.Bars[0].Cells = append(l.Bars[0].Cells, c.cell)
	}
	l.measure()
	return template.CSS(l.rowHeights())
}

// Style of a heading, a count, and a note: the columns over which they stand.
func (h heading) Style() template.CSS { return columns(h.From, h.To) }

// Style of the slot of that index.
func (s slot) Style(i int) template.CSS { return columns(i+1, i+2) }

// Style of a note or a rest; outside a bar it has no columns.
func (c cell) Style() template.CSS {
	if c.To == 0 {
		return ""
	}
	return columns(c.From, c.To)
}

func columns(from, to int) template.CSS {
	return template.CSS(fmt.Sprintf("grid-column:%d/%d", from, to))
}

// Heading of a phrase: its number, and whether it is played again.
func (p phrase) Heading() string { return "P" + p.Label[1:] }

// RestSign is the sign of the legend that is drawn.
func (p page) RestSign() string { return restSign }
