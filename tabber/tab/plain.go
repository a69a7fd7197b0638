package tab

import (
	"fmt"
	"io"
	"strings"

	"blowdraw/tabber/harp"
)

// Plain is tab without times, as players write it down: see the package comment.
// Indices are of events.
type Plain struct {
	Harp    harp.Harp
	Events  []Event  // in order, without times
	Lines   []int    // first events of the lines of tab
	Bars    []int    // events before which a bar line stands, ascending; twice where a bar is empty
	Remarks []Remark // words, each before an event, or len(Events)
	Told    Errors   // what was not understood, or was kept in another way than may be meant
}

// ReadPlain reads plain tab for a harp. It fails only where reading does: what is not
// understood is told and kept.
func ReadPlain(r io.Reader, h harp.Harp) (Plain, error) {
	data, err := io.ReadAll(r)
	if err != nil {
		return Plain{}, fmt.Errorf("reading tab: %w", err)
	}
	lines := textLines(data)
	p := plainReader{plain: Plain{Harp: h}, lines: lines, manners: mannersOf(lines)}
	for i, text := range lines {
		p.line = i + 1
		p.read(text)
	}
	return p.plain, nil
}

// textLines are the lines of a file in UTF-8, without their ends.
func textLines(data []byte) []string {
	lines := strings.Split(strings.TrimPrefix(decoded(data), "\ufeff"), "\n")
	for i := range lines {
		lines[i] = strings.TrimSuffix(lines[i], "\r")
	}
	return lines
}

type plainReader struct {
	plain Plain
	lines []string
	line  int // number of the current line

	kept    []string // words of the current line for its last event, or above its first
	manners manners
	counted
}

// tell something of the current line, at a word of it.
func (p *plainReader) tell(w textAt, format string, args ...any) {
	text := p.lines[p.line-1]
	p.counted = p.counted.to(text, w.at)
	p.plain.Told = append(p.plain.Told, Error{
		Line: p.line, Column: p.counted.column(), Text: fmt.Sprintf(format, args...), Source: text,
	})
}

// remark keeps words above the next event.
func (p *plainReader) remark(text string) {
	p.plain.Remarks = append(p.plain.Remarks, Remark{
		Before: len(p.plain.Events), Text: strings.TrimSpace(clean(text)), Heading: true,
	})
}

// read one line.
func (p *plainReader) read(text string) {
	content, comment := text, ""
	if at := commentAt(text); at >= 0 {
		content, comment = text[:at], commentIn(text, at)
	}
	words := plainWords(content)
	switch {
	case p.manners.isTab(words):
		first := len(p.plain.Events)
		p.readTab(words)
		if comment != "" {
			p.keep(comment)
		}
		p.settle(first)
		for _, e := range p.plain.Events[first:] {
			SortMarks(e.Marks)
		}
	case len(words) > 0:
		p.tellNotes(words)
		p.remark(text)
	case content != text:
		p.remark(comment)
	}
}

// manyNotes are so many holes without a sign that words with them may be tab.
const manyNotes = 3

// tellNotes tells a line of words that has notes in it.
func (p *plainReader) tellNotes(words []textAt) {
	var notes []textAt
	sure := false
	for _, w := range words {
		if k := p.manners.kind(w.text); k == sureNote || k == bareNote {
			notes, sure = append(notes, w), sure || k == sureNote
		}
	}
	if sure || len(notes) >= manyNotes {
		p.tell(notes[0], "kept as words, though %s may be tab; if so, want it on a line of its own",
			joined(notes))
	}
}

// readTab reads a line of tab, word by word.
func (p *plainReader) readTab(words []textAt) {
	first, bars := len(p.plain.Events), len(p.plain.Bars)
	if p.manners.barred {
		p.plain.Bars = append(p.plain.Bars, first)
	}
	last := len(words) - 1
	for last >= 0 && isBarSign(words[last].text) {
		last--
	}
	front := true
	for i, w := range words {
		sign := isBarSign(w.text)
		switch front = front && sign; {
		case !sign:
			p.readWord(w, first)
			continue
		case !front && i < last:
			p.plain.Bars = append(p.plain.Bars, len(p.plain.Events))
		}
		if strings.Contains(w.text, ":") {
			p.tell(w, "%s is read as a bar line; what is repeated is not written out", w.text)
		}
	}
	if len(p.plain.Events) == first {
		p.plain.Bars = p.plain.Bars[:bars]
		return
	}
	p.plain.Lines = append(p.plain.Lines, first)
}

// readWord reads a word of a line of tab whose events begin at first.
func (p *plainReader) readWord(w textAt, first int) {
	switch k := p.manners.kind(w.text); {
	case k == bareNote || k == sureNote || k == oddNote:
		p.readNote(w, first)
		return
	case k == markSign && len(p.plain.Events) > first:
		m, _ := parseMark(w.text)
		last := &p.plain.Events[len(p.plain.Events)-1]
		last.Marks = append(last.Marks, m)
		return
	}
	p.keep(w.text)
	if strings.ContainsAny(w.text, "0123456789") || isDash(w.text) {
		p.tell(w, "%s is no note and is kept as a comment", w.text)
	}
}

// readNote reads a word that looks like a note.
func (p *plainReader) readNote(w textAt, first int) {
	token, signs := p.manners.plainToken(w.text)
	actions, err := ParseToken(p.plain.Harp, token)
	if err != nil {
		p.keep(NotUnderstood + w.text)
		p.tell(w, "%v", err)
		return
	}
	e := Event{Actions: actions, Texture: Texture(actions), Confidence: 1, Line: p.line}
	for _, a := range actions {
		e.Pitches = append(e.Pitches, float64(p.plain.Harp.MIDI(a)))
	}
	p.settle(first)
	if p.plain.Events = append(p.plain.Events, e); signs != "" {
		p.keep(w.text)
		p.tell(w, "%s is read as %s; %s is kept as a comment", w.text, Token(actions), w.text)
	}
}

// keep words of a line of tab, until they are settled.
func (p *plainReader) keep(words string) { p.kept = append(p.kept, words) }

// settle puts the words that were kept of a line of tab, whose events begin at first, with
// the note before them, or above the first. It does so for all of them at once, since a line
// may have many thousands.
func (p *plainReader) settle(first int) {
	if len(p.kept) == 0 {
		return
	}
	var said []string
	for _, w := range p.kept {
		if w = clean(w); w != "" {
			said = append(said, w)
		}
	}
	words := strings.TrimSpace(strings.Join(said, " "))
	p.kept = nil
	if n := len(p.plain.Events); n > first {
		p.plain.Events[n-1].Comment = words
		return
	}
	p.remark(words)
}

// usualBeat is how many seconds a beat lasts where nothing tells: 120 beats a minute.
const usualBeat = 0.5

// Document is the tab with made-up times: every note lasts a beat, or every bar as long as
// another, of which its notes have equal parts. Bpm is the tempo in beats a minute, 0 for 120,
// meter that of the bars, empty for four beats. The song is in the key of a pitch class.
func (p Plain) Document(songKey int, minor bool, bpm float64, meter string) Document {
	d := Document{Harp: p.Harp, SongKey: songKey, Minor: minor, BPM: bpm, Meter: meter}
	beat := usualBeat
	if bpm > 0 {
		beat = 60 / bpm
	}
	bar := beat * float64(d.BeatsInBar())
	at, bars := 0.0, p.Bars
	length := beat
	for i, e := range p.Events {
		for len(bars) > 0 && bars[0] == i {
			d.Bars = append(d.Bars, Bar{Number: len(d.Bars) + 1, Start: at})
			bars = bars[1:]
			next := len(p.Events)
			if len(bars) > 0 {
				next = bars[0]
			}
			if next > i {
				length = bar / float64(next-i)
			} else {
				at += bar // the bar is empty
			}
		}
		e.Start, e.End = at, at+length
		at = e.End
		d.Events = append(d.Events, e)
	}
	for i, first := range p.Lines {
		end := at
		if i+1 < len(p.Lines) {
			end = d.Events[p.Lines[i+1]].Start
		}
		d.Phrases = append(d.Phrases, Phrase{Start: d.Events[first].Start, End: end})
	}
	d.To = at
	return p.withRemarks(d)
}

// Timed is the tab with the times of its events, which stand in a document as they do here.
// A bar line stands before its first event.
func (p Plain) Timed(d Document) Document {
	d.Bars = nil
	for k := 0; k < len(p.Bars); {
		i, empty := p.Bars[k], 0
		for k++; k < len(p.Bars) && p.Bars[k] == i; k++ {
			empty++ // bars before it
		}
		start := d.Events[i].Start
		from := 0.0
		if n := len(d.Bars); n > 0 {
			from = d.Bars[n-1].Start
		}
		if i > 0 {
			from = max(from, d.Events[i-1].Start)
		}
		for j := range empty + 1 {
			at := from + (start-from)*float64(j+1)/float64(empty+1)
			if n := len(d.Bars); n == 0 || Millis(at) > Millis(d.Bars[n-1].Start) {
				d.Bars = append(d.Bars, Bar{Number: n + 1, Start: at})
			}
		}
	}
	return p.withRemarks(d)
}

// withRemarks is a document with the words of the tab; those above its first note go into the
// header.
func (p Plain) withRemarks(d Document) Document {
	for _, r := range p.Remarks {
		if r.Before == 0 {
			r = Remark{Before: -1, Text: r.Text}
		}
		d.Remarks = append(d.Remarks, r)
	}
	return d
}
