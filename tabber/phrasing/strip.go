package phrasing

import (
	"fmt"
	"html"
	"io"
	"math"
	"strings"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// Bars stand four in a row, as forms are written down. Where a document has none,
// stretches of so many seconds are drawn in their place, in characters shorter ones.
const (
	barsInRow    = 4
	cellsABeat   = 3 // characters
	lineSeconds  = 4.0
	stripSeconds = 2.0
)

// box is a bar, or a stretch of time: from, to in seconds.
type box struct {
	from, to   float64
	name, text string
}

// boxes are the bars that the section touches, from its first events or bar line to
// its end, or else stretches of so many seconds.
func boxes(d tab.Document, seconds float64) []box {
	from, to := d.From, d.To
	if to <= from && len(d.Events) > 0 { // the document names no section
		from = d.Events[0].Start
	}
	for _, e := range d.Events {
		to = max(to, e.End)
	}
	var out []box
	if len(d.Bars) == 0 {
		for t := from; t < to; t += seconds {
			out = append(out, box{from: t, to: t + seconds, name: tab.ShortClock(t)})
		}
		return out
	}
	first, ok := d.PlaceAt(min(from, d.Bars[0].Start))
	if !ok {
		return nil
	}
	for n := first.Bar; ; n++ {
		start, _ := d.TimeAt(tab.Place{Bar: n, Beat: 1})
		end, ok := d.TimeAt(tab.Place{Bar: n + 1, Beat: 1})
		if start >= to || !ok {
			return out
		}
		if end > 0 {
			out = append(out, box{start, end, fmt.Sprint(n), d.ChordAt(max(start, 0))})
		}
	}
}

// Strip draws what is played and what is left open, bar by bar, in characters: a
// full block where an event begins, a low one while it sounds, a dot in the space.
// Four bars stand in a row, or two or one if the width in characters is less; 0 is any.
func Strip(d tab.Document, width int) string {
	cells := cellsABeat * d.BeatsInBar()
	all := boxes(d, stripSeconds)
	inRow := barsInRow
	for width > 0 && inRow > 1 && inRow*(cells+1)+1 > width {
		inRow /= 2
	}
	var b strings.Builder
	for i := 0; i < len(all); i += inRow {
		head, line := "", ""
		for _, x := range all[i:min(i+inRow, len(all))] {
			head += fmt.Sprintf(" %-*s", cells, strings.TrimSpace(x.name+"  "+x.text))
			line += "|" + x.cells(d, cells)
		}
		if i > 0 {
			b.WriteString("\n")
		}
		b.WriteString(strings.TrimRight(head, " ") + "\n" + line + "|\n")
	}
	if len(all) > 0 {
		b.WriteString("\n" + legend + "\n")
	}
	return b.String()
}

const legend = "█ a note begins   ▄ it sounds   · space"

// cells are those of one box.
func (x box) cells(d tab.Document, n int) string {
	out := []rune(strings.Repeat("·", n))
	length := (x.to - x.from) / float64(n)
	for _, e := range d.Events {
		if e.End <= x.from || e.Start >= x.to-length/2 {
			continue
		}
		begin := int(math.Round((e.Start - x.from) / length))
		end := int(math.Round((e.End - x.from) / length))
		for k := max(begin, 0); k < min(max(end, begin+1), n); k++ {
			if k == begin {
				out[k] = '█'
			} else if out[k] == '·' {
				out[k] = '▄'
			}
		}
	}
	return string(out)
}

// Sizes of the picture in pixels.
const (
	boxWide, boxHigh = 240.0, 96.0
	gapWide          = 6.0
	margin           = 24.0
	noteHigh         = 7.0
	labelHigh        = 22.0
)

// WriteSVG draws the same as a picture (Scalable Vector Graphics 1.1): notes as
// strokes, the higher the further up, the space left white.
func WriteSVG(w io.Writer, d tab.Document) error {
	all := boxes(d, lineSeconds)
	rows := (len(all) + barsInRow - 1) / barsInRow
	width := 2*margin + barsInRow*boxWide + (barsInRow-1)*gapWide
	height := 2*margin + labelHigh + float64(rows)*(boxHigh+gapWide)
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="%.0f" height="%.0f" `+
		`viewBox="0 0 %.0f %.0f" font-family="sans-serif">`+"\n", width, height, width, height)
	fmt.Fprintf(&b, `<rect width="100%%" height="100%%" fill="#f4efe6"/>`+"\n")
	title := strings.TrimSpace(tab.OneLine(d.Recording + "  " + d.Form))
	fmt.Fprintf(&b, `<text x="%.0f" y="%.0f" font-size="15" fill="#3b2f2f">%s</text>`+"\n",
		margin, margin, html.EscapeString(title))
	writeLegend(&b, width)
	low, high := pitchRange(d)
	for i, x := range all {
		left := margin + float64(i%barsInRow)*(boxWide+gapWide)
		top := margin + labelHigh + float64(i/barsInRow)*(boxHigh+gapWide)
		fmt.Fprintf(&b, `<rect x="%.1f" y="%.1f" width="%.0f" height="%.0f" `+
			`rx="5" fill="#ffffff" stroke="#b9a98f"/>`+"\n", left, top, boxWide, boxHigh)
		x.drawBeats(&b, d, left, top)
		fmt.Fprintf(&b, `<text x="%.1f" y="%.1f" font-size="11" fill="#8a7a63">%s</text>`+"\n",
			left+5, top+13, html.EscapeString(x.name))
		fmt.Fprintf(&b, `<text x="%.1f" y="%.1f" font-size="13" text-anchor="end" `+
			`fill="#7a2e1f">%s</text>`+"\n", left+boxWide-6, top+14, html.EscapeString(x.text))
		for _, e := range d.Events {
			x.drawNotes(&b, d, e, left, top, low, high)
		}
	}
	b.WriteString("</svg>\n")
	if _, err := io.WriteString(w, b.String()); err != nil {
		return fmt.Errorf("writing the picture: %w", err)
	}
	return nil
}

// Colours of what is blown and drawn.
const (
	blowColour = "#b0461a" // as on the listening page
	drawColour = "#17597f"
)

// writeLegend says at the right margin what the colours mean.
func writeLegend(b *strings.Builder, width float64) {
	x := width - margin
	for _, c := range []struct{ word, colour string }{{"draw", drawColour}, {"blow", blowColour}} {
		fmt.Fprintf(b, `<text x="%.0f" y="%.0f" font-size="12" text-anchor="end" `+
			`fill="#3b2f2f">%s</text>`+"\n", x, margin, c.word)
		fmt.Fprintf(b, `<rect x="%.0f" y="%.0f" width="16" height="%.0f" rx="3" fill="%s"/>`+"\n",
			x-50, margin-8, noteHigh, c.colour)
		x -= 66
	}
}

// drawBeats draws a faint line at each beat of a bar but the first.
func (x box) drawBeats(b *strings.Builder, d tab.Document, left, top float64) {
	if len(d.Bars) == 0 {
		return
	}
	beats := d.BeatsInBar()
	for k := 1; k < beats; k++ {
		at := left + boxWide*float64(k)/float64(beats)
		fmt.Fprintf(b, `<line x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f" stroke="#e3dac9"/>`+"\n",
			at, top+labelHigh, at, top+boxHigh-1)
	}
}

// How much of a box an event must take up, or how much of the event must lie in it, to
// be drawn there: what reaches over a bar line by less belongs to the other bar.
const (
	leastPart  = 0.03 // of the box
	leastShare = 0.3
)

// drawNotes draws what of an event lies in the box.
func (x box) drawNotes(b *strings.Builder, d tab.Document, e tab.Event, left, top float64, low, high int) {
	from, to := max(e.Start, x.from), min(e.End, x.to)
	if part := to - from; part <= 0 || part < leastPart*(x.to-x.from) && part < leastShare*(e.End-e.Start) {
		return
	}
	scale := boxWide / (x.to - x.from)
	for _, a := range e.Actions {
		up := float64(d.Harp.MIDI(a)-low) / float64(max(1, high-low))
		y := top + labelHigh + (1-up)*(boxHigh-labelHigh-noteHigh-4)
		colour := blowColour
		if a.Breath == harp.Draw {
			colour = drawColour
		}
		name := html.EscapeString(tab.Token([]harp.Action{a}))
		fmt.Fprintf(b, `<rect x="%.1f" y="%.1f" width="%.1f" height="%.0f" rx="3" fill="%s">`+
			"<title>%s</title></rect>\n",
			left+(from-x.from)*scale, y, max(1, (to-from)*scale-1), noteHigh, colour, name)
	}
}

// pitchRange is the lowest and the highest note of a document.
func pitchRange(d tab.Document) (low, high int) {
	low, high = math.MaxInt, math.MinInt
	for _, e := range d.Events {
		for _, a := range e.Actions {
			m := d.Harp.MIDI(a)
			low, high = min(low, m), max(high, m)
		}
	}
	return low, high
}
