package sheet

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"blowdraw/onset/form"
	"blowdraw/tabber/tab"
	"blowdraw/tabber/tab/grid"
)

// perLine is how many bars a line has, so that a form of twelve is three lines (common
// practice, no source).
const perLine = 4

// line is bars beside each other. Across is into how many of equal width the line is
// divided: four or, where they would not fit, two or one.
type line struct {
	Chorus  int // that begins here; 0 for none
	Bars    []bar
	Across  int
	Size    float64 // of the tab, pt
	Width   float64 // of its widest bar, em of the tab
	Stack   int     // reeds one above the other, at most
	Named   int     // names of notes one above the other, at most
	Marked  bool    // there are marks
	Titled  bool    // there are labels
	Chorded bool    // there are chords
	Timed   bool    // it has seconds instead of bars
	Notes   []string
}

// bar is one bar, or an empty place of a line.
type bar struct {
	Blank    bool
	Number   int
	OfChorus int    // number in its chorus from the second on, else 0
	Time     string // minutes and seconds, of the first of a line
	Chords   []heading
	Labels   []heading
	Slots    []slot
	Cells    []cell
	Rest     bool // nothing sounds
	width    float64
	rows     string // heights
}

// heading stands over a bar, from one column of slots, counted from 1, to another.
type heading struct {
	From, To   int
	Text, Name string // a chord's root is its name, if names are wanted
}

// slot is a column of a bar, up to the next thing that begins or is counted.
type slot struct {
	Units  int // long
	Count  string
	Silent bool // nothing begins here
}

// cell is a note or a rest, from one column to another.
type cell struct {
	From, To       int
	Units          int      // long
	Tabs, Names    []string // the highest first
	Marks          string
	Doubtful, Held bool
	TiedFrom, Tie  bool // sounds on from the bar before, into the bar after
	Rest           bool
}

// linesOf sets a tab in lines.
func linesOf(d tab.Document, opt Options) []line {
	g := grid.Of(d)
	t := typesetter{d, opt, g, labels(d), chorusBars(d)}
	bars := g.Bars(g.Spans(d))
	if len(bars) == 0 {
		return nil
	}
	var out []line
	for len(bars) > 0 {
		n := bars[0].Number - 1
		before := n - perLine*floorDiv(n, perLine)
		take := min(perLine-before, len(bars))
		out = append(out, t.line(bars[:take], before)...)
		bars = bars[take:]
	}
	return out
}

func floorDiv(a, b int) int {
	if a < 0 {
		return -((b - 1 - a) / b)
	}
	return a / b
}

// chorusBars is the length of a tab's form in bars; 0 if it has none.
func chorusBars(d tab.Document) int {
	for _, f := range form.Forms() {
		if f.Name == d.Form {
			return f.Bars()
		}
	}
	return 0
}

// typesetter sets bars.
type typesetter struct {
	d      tab.Document
	opt    Options
	grid   grid.Grid
	labels map[int]string
	chorus int // bars
}

// line sets bars that belong on one line, with so many places before them left free: on
// one line, or on several of fewer bars where they would not fit.
func (t typesetter) line(from []grid.Bar, before int) []line {
	bars := make([]bar, before)
	for i := range bars {
		bars[i].Blank = true
	}
	l := line{}
	for i, b := range from {
		set := t.bar(b)
		if i == 0 || i+before == 2 { // a narrow screen breaks a line there
			set.Time = tab.ShortClock(t.grid.Time(float64((b.Number - t.grid.First) * t.grid.PerBar)))
		}
		if t.chorus > 0 && b.Number > 0 && (b.Number-1)%t.chorus == 0 {
			l.Chorus = (b.Number-1)/t.chorus + 1
		}
		bars = append(bars, set)
		for _, p := range b.Pieces {
			for _, e := range p.Events {
				if !p.TiedFrom {
					l.Notes = append(l.Notes, comments(t.d, e)...)
				}
			}
		}
	}
	for len(bars) < perLine {
		bars = append(bars, bar{Blank: true})
	}
	widest := 0.0
	for _, b := range bars {
		widest = max(widest, b.width)
	}
	across, size := t.fit(widest)
	var out []line
	for len(bars) > 0 {
		part := l
		part.Bars, part.Across, part.Size, part.Width = bars[:across], across, size, widest
		bars = bars[across:]
		if !slices.ContainsFunc(part.Bars, func(b bar) bool { return !b.Blank }) {
			continue
		}
		if len(out) > 0 {
			part.Chorus = 0
			out[len(out)-1].Notes = nil // they stand under the last
		}
		part.measure()
		out = append(out, part)
	}
	return out
}

// measure says how high the rows of a line are.
func (l *line) measure() {
	l.Stack = 1
	for _, b := range l.Bars {
		l.Titled, l.Chorded = l.Titled || len(b.Labels) > 0, l.Chorded || len(b.Chords) > 0
		for _, c := range b.Cells {
			l.Stack, l.Named = max(l.Stack, len(c.Tabs)), max(l.Named, len(c.Names))
			l.Marked = l.Marked || c.Marks != ""
		}
	}
	for i := range l.Bars {
		l.Bars[i].rows = l.rowHeights()
	}
}

// The size of the tab in pt: as large as it fits between least and usual.
const usualSize, leastSize, largeSize, leastLarge = 15.0, 8.5, 24.0, 14.0

// Width of a line in pt, upright on the narrower of A4 (210 mm) and Letter (216 mm; ISO
// 216 and ANSI Y14.1, from memory) with the page's margins, and lying on the narrower, A4
// being the longer.
const uprightWidth, lyingWidth = 180 / 25.4 * 72, 249 / 25.4 * 72

// fit is how many bars of a width in em stand across a line, and how large the tab is
// then, in pt.
func (t typesetter) fit(em float64) (across int, size float64) {
	usual, least, width := usualSize, leastSize, uprightWidth
	if t.opt.Large {
		usual, least, width = largeSize, leastLarge, lyingWidth
	}
	for across = perLine; ; across /= 2 {
		size = min(usual, width/float64(across)/max(em, 1))
		if size >= least || across == 1 {
			return across, float64(int(size*10)) / 10
		}
	}
}

// bar sets one bar.
func (t typesetter) bar(b grid.Bar) bar {
	out := bar{Number: b.Number, Rest: true}
	if t.chorus > 0 && b.Number > t.chorus {
		out.OfChorus = (b.Number-1)%t.chorus + 1
	}
	notes := joined(b.Pieces)
	begins := map[int]bool{} // places where a note begins
	edges := []int{0}
	for beat := range t.grid.PerBar {
		edges = append(edges, beat*grid.Unit)
	}
	at := 0
	for _, p := range notes {
		edges = append(edges, at)
		begins[at] = len(p.Events) > 0 && !p.TiedFrom
		out.Rest = out.Rest && len(p.Events) == 0
		at += p.Length
	}
	size := t.grid.PerBar * grid.Unit
	edges = append(edges, size)
	slices.Sort(edges)
	edges = slices.Compact(edges)
	column := func(at int) int { // of what lies there, from 1
		i, found := slices.BinarySearch(edges, at)
		if found {
			i++
		}
		return i
	}
	for i, at := range edges[:len(edges)-1] {
		out.Slots = append(out.Slots, slot{Units: edges[i+1] - at, Silent: !begins[at],
			Count: count(at/grid.Unit+1, at%grid.Unit)})
	}
	at = 0
	for _, p := range notes {
		c := t.cell(p)
		c.From, c.To = column(at), column(at+p.Length)
		out.Cells = append(out.Cells, c)
		if len(p.Events) > 0 && !p.TiedFrom {
			for _, e := range p.Events {
				if text := t.labels[e]; text != "" {
					out.Labels = append(out.Labels, heading{From: c.From, Text: text})
				}
			}
		}
		at += p.Length
	}
	for i := range out.Labels {
		out.Labels[i].To = len(edges)
		if i+1 < len(out.Labels) {
			out.Labels[i].To = out.Labels[i+1].From
		}
	}
	out.Chords = t.chords(b.Number, size, column, len(edges))
	out.width = out.widthEm()
	return out
}

// chords of a bar, over where they begin.
func (t typesetter) chords(number, size int, column func(int) int, last int) []heading {
	var out []heading
	for _, b := range t.d.Bars {
		if b.Number != number {
			continue
		}
		words := strings.Fields(b.Chord)
		for k, w := range words {
			h := heading{From: column(k * size / len(words)), To: last, Text: w}
			if root, ok := tab.ChordRoot(w); ok && t.opt.Notes {
				h.Name = strings.TrimRight(t.d.Harp.NoteName(60+(t.d.SongKey+root)%12, t.d.SongKey),
					"0123456789") + chordEnd(w)
			}
			if k > 0 {
				out[k-1].To = h.From
			}
			out = append(out, h)
		}
	}
	return out
}

// chordEnd is what stands behind the root of a chord: m for a minor one, and its number.
func chordEnd(chord string) string {
	end := strings.TrimLeft(chord, "bIViv")
	if strings.ContainsAny(chord, "iv") {
		return "m" + end
	}
	return end
}

// joined are the notes and rests of a bar whole, which the grid has in pieces.
func joined(pieces []grid.Piece) []grid.Piece {
	var out []grid.Piece
	for _, p := range pieces {
		if n := len(out); n > 0 && (len(p.Events) == 0 && len(out[n-1].Events) == 0 ||
			p.TiedFrom && out[n-1].TieTo) {
			out[n-1].Length += p.Length
			out[n-1].TieTo = p.TieTo
			continue
		}
		out = append(out, p)
	}
	return out
}

// heldFrom is from which length in units on a stroke says that a note is held.
const heldFrom = grid.Unit

func (t typesetter) cell(p grid.Piece) cell {
	c := cell{Units: p.Length, TiedFrom: p.TiedFrom, Tie: p.TieTo, Rest: len(p.Events) == 0}
	c.Held = !c.Rest && (p.Length >= heldFrom || p.TieTo)
	for _, i := range p.Events {
		e := t.d.Events[i]
		c.Tabs = append(t.opt.text(t.d, e), c.Tabs...)
		if p.TiedFrom {
			continue
		}
		c.Names = append(t.opt.names(t.d, e), c.Names...)
		c.Doubtful = c.Doubtful || e.Doubtful() && !t.opt.Student
		c.Marks = strings.TrimSpace(c.Marks + " " + t.opt.marks(e))
	}
	return c
}

// Widths in em of the tab's bold sans-serif letters and of the smaller rows, of DejaVu
// Sans, which is wider than most (its metrics: digit 0.696, hyphen 0.415, apostrophe
// 0.306).
const (
	digitEm, minusEm, bendEm = 0.70, 0.42, 0.31
	smallEm                  = 0.38 // a letter of counts, marks and names
	gapEm                    = 0.32 // between columns
	edgeEm                   = 0.50 // beside the bar lines
)

// widthEm is the least width of a bar, in em of its tab.
func (b bar) widthEm() float64 {
	need := make([]float64, len(b.Slots)+1) // by column, from 1
	for i, s := range b.Slots {
		n := len([]rune(s.Count))
		if s.Silent && !b.Rest {
			n += 2
		}
		need[i+1] = smallEm*float64(n) + gapEm
	}
	widen := func(from, to int, em float64) {
		sum := 0.0
		for i := from; i < to; i++ {
			sum += need[i]
		}
		for i := from; i < to && sum < em; i++ {
			need[i] += (em - sum) / float64(to-from)
		}
	}
	for _, c := range b.Cells {
		em := 0.6
		for _, s := range c.Tabs {
			em = max(em, textEm(s))
		}
		if c.TiedFrom {
			em += 0.5
		}
		if c.Doubtful {
			em += 0.35
		}
		for _, s := range append(c.Names, c.Marks) {
			em = max(em, smallEm*float64(len([]rune(s))))
		}
		widen(c.From, c.To, em+gapEm)
	}
	for _, l := range b.Labels {
		widen(l.From, l.To, 0.3*float64(len(l.Text))+gapEm)
	}
	sum := edgeEm
	for _, n := range need {
		sum += n
	}
	return sum
}

func textEm(s string) float64 {
	sum := 0.0
	for _, r := range s {
		switch r {
		case '-':
			sum += minusEm
		case '\'':
			sum += bendEm
		default:
			sum += digitEm
		}
	}
	return sum
}

// NumberText is a bar's number, with that in its chorus from the second on.
func (b bar) NumberText() string {
	if b.OfChorus > 0 {
		return fmt.Sprintf("%d (%d)", b.Number, b.OfChorus)
	}
	return fmt.Sprint(b.Number)
}

// Columns is the style of a bar's columns: as wide as they are long, if what stands in
// them fits.
func (b bar) Columns() string {
	var out []string
	for _, s := range b.Slots {
		out = append(out, fmt.Sprintf("minmax(min-content,%dfr)", s.Units))
	}
	return strings.Join(out, " ")
}

// Text is a count as it stands under the tab.
func (s slot) Text() string {
	if s.Silent {
		return "(" + s.Count + ")"
	}
	return s.Count
}

// Shown is a chord by its degree, with its name if that is wanted.
func (h heading) Shown() string {
	return cmp.Or(strings.TrimSpace(h.Text+" "+h.Name), h.Text)
}
