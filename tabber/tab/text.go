package tab

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"blowdraw/tabber/harp"
)

// Version is the version of the text document that [WriteText] writes and
// [Parse] reads.
const Version = 1

const versionLine = "blowdraw tab"

// WriteText writes the document as text, in the form that the package comment
// describes.
func WriteText(w io.Writer, d Document) error {
	if err := d.check(); err != nil {
		return fmt.Errorf("writing tab: %w", err)
	}
	b := bufio.NewWriter(w)
	fmt.Fprintf(b, "%s %d\n\n", versionLine, Version)
	for _, h := range d.header() {
		if h[1] != "" {
			fmt.Fprintf(b, "%-11s%s\n", h[0]+":", h[1])
		}
	}
	for _, h := range d.Other {
		fmt.Fprintln(b, strings.TrimRight(fmt.Sprintf("%-11s%s", h.Name+": ", valueText(h.Value)), " "))
	}
	inHeader := -1
	if len(d.Events)+len(d.Phrases) == 0 {
		inHeader = math.MaxInt
	}
	remarks := writeRemarks(b, d.Remarks, inHeader, "\n")
	d.writeBody(b, remarks)
	if err := b.Flush(); err != nil {
		return fmt.Errorf("writing tab: %w", err)
	}
	return nil
}

// header lists names and values of the header lines in order; lines without a
// value are left out.
func (d Document) header() [][2]string {
	h := [][2]string{{"recording", valueText(d.Recording)}}
	if Millis(d.To) > Millis(d.From) {
		h = append(h, [2]string{"section", Clock(d.From) + " to " + Clock(d.To)})
	}
	layout := d.Harp.Layout.Name
	if layout == "" {
		layout = "custom"
	}
	h = append(h, [2]string{"harp", d.Harp.Name}, [2]string{"layout", layout})
	if builtin, err := harp.ParseLayout(d.Harp.Layout.Name); err != nil || !builtin.Equal(d.Harp.Layout) {
		h = append(h, [2]string{"blow", numbers(d.Harp.Layout.Blow)},
			[2]string{"draw", numbers(d.Harp.Layout.Draw)})
	}
	song := d.SongName() + ", " + harp.PositionName(d.HarpPosition()) + " position"
	if d.SongAssumed {
		song += " " + assumed
	}
	h = append(h, [2]string{"song", song},
		[2]string{"tuning", tuningText(d.TuningCents)})
	if d.BPM > 0 {
		h = append(h, [2]string{"tempo", fixed(d.BPM, 1) + " bpm"})
	}
	h = append(h, [2]string{"meter", d.Meter}, [2]string{"form", valueText(d.Form)})
	h = append(h, [2]string{"channel", valueText(d.Channel)}, [2]string{"ear", valueText(d.Ear)})
	for _, n := range d.Notes {
		h = append(h, [2]string{"note", valueText(n)})
	}
	return h
}

func tuningText(cents float64) string {
	c := round1(cents)
	switch {
	case c > 0:
		return fixed(c, 1) + " cents sharp"
	case c < 0:
		return fixed(-c, 1) + " cents flat"
	}
	return "0.0 cents"
}

func numbers(row []int) string {
	words := make([]string, len(row))
	for i, n := range row {
		words[i] = strconv.Itoa(n)
	}
	return strings.Join(words, " ")
}

// writeRemarks writes the remarks at the front of the list that stand above
// event number before or an earlier one, after lead, and returns the others.
func writeRemarks(b *bufio.Writer, remarks []Remark, before int, lead string) []Remark {
	for len(remarks) > 0 && remarks[0].Before <= before {
		b.WriteString(lead + commentText(remarks[0].Text) + "\n")
		remarks, lead = remarks[1:], ""
	}
	return remarks
}

// commentText is a comment as it stands in the document.
func commentText(s string) string { return strings.TrimRight("# "+clean(s), " ") }

// columns of the body: time, length, bar, tab, degree, marks, doubt.
type columns struct {
	rows  [][7]string // of each event
	has   [7]bool
	width [7]int // runes
}

var heads = [7]string{"time", "length", "bar", "tab", "degree", "marks"}

// columns of the document's events.
func (d Document) columns() columns {
	t := columns{
		rows: make([][7]string, len(d.Events)),
		has:  [7]bool{true, true, len(d.Bars) > 0, true, true, len(d.legend()) > 0, true},
	}
	for c, head := range heads {
		t.width[c] = len(head)
	}
	for i, e := range d.Events {
		t.rows[i] = d.Row(e)
		for c, cell := range t.rows[i] {
			t.width[c] = max(t.width[c], utf8.RuneCountInString(cell))
		}
	}
	return t
}

// write a row with the comment that follows it.
func (t columns) write(b *bufio.Writer, row [7]string, comment string) {
	s := fmt.Sprintf("%*s  %*s", t.width[0], row[0], t.width[1], row[1])
	for c := 2; c < len(row); c++ {
		if t.has[c] {
			s += fmt.Sprintf("  %-*s", t.width[c], row[c])
		}
	}
	s = strings.TrimRight(s, " ")
	if comment != "" {
		s += "  " + commentText(comment)
	}
	b.WriteString(s + "\n")
}

func (d Document) writeBody(b *bufio.Writer, remarks []Remark) {
	table := d.columns()
	if len(d.Events) > 0 {
		b.WriteString("\n")
		table.write(b, heads, "")
		if phraseOf(d.Phrases, d.Events[0]) < 0 {
			b.WriteString("\n")
		}
	}
	phrase, event, bars := -1, 0, d.Bars
	for {
		for event < len(d.Events) && phraseOf(d.Phrases, d.Events[event]) <= phrase {
			bars = writeBars(b, bars, d.onGrid(d.Events[event].Start), "")
			remarks = writeRemarks(b, remarks, event, "")
			table.write(b, table.rows[event], d.Events[event].Comment)
			event++
		}
		if phrase++; phrase == len(d.Phrases) {
			break
		}
		for len(d.Events) > 0 && len(remarks) > 0 && remarks[0].Before == event && remarks[0].Heading {
			remarks = append(writeRemarks(b, remarks[:1], event, ""), remarks[1:]...)
		}
		if phrase > 0 {
			bars = writeBars(b, bars, d.Phrases[phrase-1].End-0.001, "")
			d.writeSpace(b, phrase)
		}
		bars = writeBars(b, bars, d.onGrid(d.Phrases[phrase].Start), "\n")
		d.writePhrase(b, phrase)
	}
	last := math.Inf(-1)
	if phrase > 0 {
		last = d.Phrases[phrase-1].End - 0.001
	}
	bars = writeBars(b, bars, last, "")
	writeBars(b, bars, math.Inf(1), "\n")
	writeRemarks(b, remarks, math.MaxInt, "\n")
	writeLegend(b, d.legend())
}

// writeLegend explains the marks.
func writeLegend(b *bufio.Writer, words []MarkWord) {
	if len(words) == 0 {
		return
	}
	b.WriteString("\nMarks\n")
	for _, w := range words {
		fmt.Fprintf(b, "%-*s  %s\n", len(HandVibrato), w.Name, w.Meaning)
	}
}

// leastSpace is the shortest space in milliseconds that is told. Phrases meet where times are
// not known, as in tab that came without any.
const leastSpace = 50

// writeSpace writes how long the space before a phrase is, if there is one.
func (d Document) writeSpace(b *bufio.Writer, i int) {
	from, to := d.Phrases[i-1].End, d.Phrases[i].Start
	if Millis(to)-Millis(from) >= leastSpace {
		fmt.Fprintf(b, "\nspace %s\n", d.lengthText(from, to))
	}
}

// writePhrase writes the heading of a phrase.
func (d Document) writePhrase(b *bufio.Writer, i int) {
	p := d.Phrases[i]
	checked := ""
	if p.Checked {
		checked = "  " + checkedWord
	}
	fmt.Fprintf(b, "\nPhrase %d  %s to %s  %s%s\n",
		i+1, Clock(p.Start), Clock(p.End), d.lengthText(p.Start, p.End), checked)
}

// lengthText is how long a stretch is, in seconds and if possible in beats.
func (d Document) lengthText(from, to float64) string {
	from, to = Rounded(from), Rounded(to)
	s := fixed(to-from, 1) + " s"
	a, okA := d.BeatAt(from)
	b, okB := d.BeatAt(to)
	if okA && okB {
		s += ", " + fixed(b-a, 1) + " beats"
	}
	return s
}

// writeBars writes the bar lines at the front of the list up to a time, after
// lead, and returns the others.
func writeBars(b *bufio.Writer, bars []Bar, until float64, lead string) []Bar {
	for len(bars) > 0 && (math.IsInf(until, 1) || Millis(bars[0].Start) <= Millis(until)) {
		line := fmt.Sprintf("%sbar %d  %s", lead, bars[0].Number, Clock(bars[0].Start))
		for _, more := range []string{bars[0].Chord, bars[0].Doubt()} {
			if more != "" {
				line += "  " + more
			}
		}
		b.WriteString(line + "\n")
		bars, lead = bars[1:], ""
	}
	return bars
}

// Row is what the line of an event says, column by column: time, length, place in
// the bar, tab, degrees, marks and doubt.
func (d Document) Row(e Event) [7]string {
	degree := strings.Join(d.degrees(e), " ")
	if Texture(e.Actions) == Split {
		degree += " " + d.interval(e)
	}
	return [7]string{
		Clock(e.Start), e.lengthText(), d.EventPlace(e), d.EventToken(e), degree, e.MarkText(),
		d.doubtColumn(e),
	}
}

// lengthText is how long an event lasts as it is written, from its rounded start to its
// rounded end.
func (e Event) lengthText() string {
	return fixed(float64(Millis(e.End)-Millis(e.Start))/1000, 3)
}
