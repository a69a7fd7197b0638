package sheet

import (
	"bufio"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"blowdraw/tabber/tab"
)

// lineWidth is the longest line of bars in Markdown, in characters, unless one bar takes
// more.
const lineWidth = 100

// WriteMarkdown writes a sheet as Markdown (CommonMark 0.31), the tab in code blocks.
func WriteMarkdown(w io.Writer, d tab.Document, opt Options) error {
	p := pageOf(d, opt)
	b := bufio.NewWriter(w)
	fmt.Fprintf(b, "# %s\n\n%s\n", escape(p.Title), escape(p.Harp))
	if p.NoBars != "" {
		fmt.Fprintf(b, "\n%s\n", escape(p.NoBars))
	}
	for _, l := range p.Lines {
		if l.Chorus > 0 {
			fmt.Fprintf(b, "\n**Chorus %d**\n", l.Chorus)
		}
		for _, rows := range barRows(l.Bars) {
			writeBlock(b, rows)
		}
		writeNotes(b, l.Notes)
	}
	for _, ph := range p.Phrases {
		fmt.Fprintf(b, "\n**%s**  (%s)\n", ph.Heading(), ph.Start)
		writeBlock(b, phraseRows(ph.Cells))
		writeNotes(b, ph.Notes)
	}
	if len(p.Doubts) > 0 {
		b.WriteString("\n**To check by ear**\n\n")
	}
	for _, s := range p.Doubts {
		fmt.Fprintf(b, "- %s\n", escape(s))
	}
	if len(p.Legend) > 0 {
		b.WriteString("\n---\n\n")
	}
	for _, s := range p.Legend {
		fmt.Fprintf(b, "- `%s`  %s\n", strings.ReplaceAll(s.Sign, "—", "_"), s.Meaning)
	}
	if err := b.Flush(); err != nil {
		return fmt.Errorf("writing the sheet: %w", err)
	}
	return nil
}

func writeNotes(b *bufio.Writer, notes []string) {
	for _, n := range notes {
		fmt.Fprintf(b, "\n*%s*\n", escape(n))
	}
}

// writeBlock writes the rows of a code block; those without anything are left out.
func writeBlock(b *bufio.Writer, rows []string) {
	b.WriteString("\n")
	for _, r := range rows {
		if r = strings.TrimRight(r, " "); strings.Trim(r, "| ") != "" {
			fmt.Fprintf(b, "    %s\n", r)
		}
	}
}

// rowCount is how many rows a bar has: labels, number and chords, tab, names, marks,
// counts.
const rowCount = 6

// barRows are the rows of bars beside each other, in blocks of as many bars as fit.
func barRows(bars []bar) [][]string {
	var set [][rowCount]string
	widest := 0
	for _, b := range bars {
		if !b.Blank {
			rows := b.text()
			for _, r := range rows {
				widest = max(widest, utf8.RuneCountInString(r))
			}
			set = append(set, rows)
		}
	}
	across := perLine
	for across > 1 && across*(widest+3)+1 > lineWidth {
		across /= 2
	}
	var out [][]string
	for len(set) > 0 {
		n := min(across, len(set))
		block := make([]string, rowCount)
		for _, rows := range set[:n] {
			for i, r := range rows {
				block[i] += "| " + pad(r, widest+1)
			}
		}
		for i := range block {
			block[i] += "|"
			if strings.Trim(block[i], "| ") == "" {
				block[i] = ""
			}
		}
		out, set = append(out, block), set[n:]
	}
	return out
}

func pad(s string, width int) string {
	return s + strings.Repeat(" ", max(0, width-utf8.RuneCountInString(s)))
}

// text are the rows of a bar, its columns as wide as what stands in them.
func (b bar) text() [rowCount]string {
	width := make([]int, len(b.Slots)+2) // by column, from 1
	for i, s := range b.Slots {
		width[i+1] = utf8.RuneCountInString(s.Text()) + 1
	}
	widen := func(from, to int, texts ...string) {
		need := 0
		for _, t := range texts {
			need = max(need, utf8.RuneCountInString(t)+1)
		}
		for i := from; i < to; i++ {
			need -= width[i]
		}
		width[to-1] += max(0, need)
	}
	for _, c := range b.Cells {
		widen(c.From, c.To, c.heldText(), c.namesText(), c.Marks)
	}
	for i, c := range b.Chords {
		widen(c.From, c.To, b.chordText(i))
	}
	for _, l := range b.Labels {
		widen(l.From, l.To, l.Text)
	}
	at := make([]int, len(width)) // where columns begin
	for i := 1; i < len(at); i++ {
		at[i] = at[i-1] + width[i-1]
	}
	var rows [rowCount]string
	put := func(row, column int, text string) { rows[row] = pad(rows[row], at[column]) + text }
	for _, l := range b.Labels {
		put(0, l.From, l.Text)
	}
	put(1, 1, b.NumberText())
	for i, c := range b.Chords {
		if i == 0 {
			rows[1] = ""
		}
		put(1, c.From, b.chordText(i))
	}
	for _, c := range b.Cells {
		text := c.heldText()
		if c.Held {
			text += strings.Repeat("_", at[c.To]-at[c.From]-1-utf8.RuneCountInString(text))
		}
		put(2, c.From, text)
		put(3, c.From, c.namesText())
		put(4, c.From, c.Marks)
	}
	for i, s := range b.Slots {
		put(5, i+1, s.Text())
	}
	return rows
}

// chordText is a chord, the first with the bar's number before it.
func (b bar) chordText(i int) string {
	if i == 0 {
		return b.NumberText() + "  " + b.Chords[0].Shown()
	}
	return b.Chords[i].Shown()
}

// text is a cell in one line.
func (c cell) text() string {
	if c.Rest {
		return restSign
	}
	s := ""
	for _, t := range c.Tabs { // the lowest first
		s = strings.TrimRight(t+" "+s, " ")
	}
	if len(c.Tabs) > 1 {
		s = "[" + s + "]"
	}
	if c.TiedFrom {
		s = "(" + s + ")"
	}
	if c.Doubtful {
		s += "?"
	}
	return s
}

// heldText is a cell in one line, with the least stroke if it is held.
func (c cell) heldText() string {
	if c.Held {
		return c.text() + "_"
	}
	return c.text()
}

// namesText are the names of a cell in one line, the lowest first as in [cell.text].
func (c cell) namesText() string {
	names := slices.Clone(c.Names)
	slices.Reverse(names)
	return strings.Join(names, " ")
}

// phraseRows are the rows of a phrase without bars: tab, names, marks, seconds.
func phraseRows(cells []timed) []string {
	var out []string
	var rows [4]string
	flush := func() {
		out = append(out, rows[:]...)
		rows = [4]string{}
	}
	for _, c := range cells {
		texts := [4]string{c.heldText(), c.namesText(), c.Marks, c.At}
		width := 0
		for _, t := range texts {
			width = max(width, utf8.RuneCountInString(t)+2)
		}
		if n := utf8.RuneCountInString(rows[0]); n > 0 && n+width > lineWidth {
			flush()
		}
		for i, t := range texts {
			rows[i] += pad(t, width)
		}
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
