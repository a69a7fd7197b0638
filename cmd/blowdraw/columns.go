package main

import (
	"bytes"
	"io"
	"os"
	"strings"
	"unicode/utf8"

	"golang.org/x/term"
)

// widthOf a terminal in characters; 0 if w is none, so that lines stay whole.
func widthOf(w io.Writer) int {
	f, ok := unwrapped(w).(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return 0
	}
	width, _, err := term.GetSize(int(f.Fd()))
	if err != nil {
		return 0
	}
	return width
}

// columnGap is how far columns stand apart.
const columnGap = 2

// printColumns writes rows of cells in columns two spaces apart.
func printColumns(b *bytes.Buffer, rows [][]string) {
	widths := columnWidths(rows)
	for _, r := range rows {
		line := ""
		for i, cell := range r {
			line += cell + strings.Repeat(" ", widths[i]-utf8.RuneCountInString(cell)+columnGap)
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
}

func columnWidths(rows [][]string) []int {
	var widths []int
	for _, r := range rows {
		for i, cell := range r {
			if i == len(widths) {
				widths = append(widths, 0)
			}
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
	return widths
}

// printColumnsWithin writes rows of as many cells as their first. If they do not fit
// into the width the columns from part on go below, beside the first column again, and
// what still does not fit further below. A width of 0 fits all.
func printColumnsWithin(b *bytes.Buffer, rows [][]string, part, width int) {
	widths := columnWidths(rows)
	whole := -columnGap
	for _, w := range widths {
		whole += w + columnGap
	}
	if width == 0 || whole <= width {
		printColumns(b, rows)
		return
	}
	for from := 1; from < len(widths); {
		to, used := from, widths[0]
		for to < len(widths) && (to == from || to != part && used+columnGap+widths[to] <= width) {
			used += columnGap + widths[to]
			to++
		}
		var some [][]string
		for _, r := range rows {
			some = append(some, append([]string{r[0]}, r[from:to]...))
		}
		if from > 1 {
			b.WriteString("\n")
		}
		printColumns(b, some)
		from = to
	}
}

// wrapped are the words of a text in lines of at most so many characters, unless a word
// is longer; a width of 0 or less is one line.
func wrapped(text string, width int) []string {
	if width <= 0 {
		return []string{text}
	}
	lines := []string{""}
	for _, w := range strings.Fields(text) {
		last := &lines[len(lines)-1]
		switch {
		case *last == "":
			*last = w
		case utf8.RuneCountInString(*last)+1+utf8.RuneCountInString(w) <= width:
			*last += " " + w
		default:
			lines = append(lines, w)
		}
	}
	return lines
}
