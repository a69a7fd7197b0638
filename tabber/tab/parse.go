package tab

import (
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"blowdraw/tabber/harp"
)

// Error is a mistake in a text document. Line and Column count from 1, the
// column in characters. Text says what is wrong and what was expected there,
// Source is the line as it stands. Stale are degrees in their column that are not
// those of the event, which is read all the same.
type Error struct {
	Line, Column int
	Text         string
	Source       string
	Stale        bool
}

func (e Error) Error() string { return fmt.Sprintf("line %d, column %d: %s", e.Line, e.Column, e.Text) }

// Errors are all the mistakes in a text document, in order of lines.
type Errors []Error

func (e Errors) Error() string {
	lines := make([]string, len(e))
	for i := range e {
		lines[i] = e[i].Error()
	}
	return strings.Join(lines, "\n")
}

// NotUnderstood begins the remark in which [Parse] keeps a line that it can't
// read.
const NotUnderstood = "not understood: "

// Parse reads a text document in the form that the package comment describes.
// Mistakes in it come back together as [Errors], each with its line and column.
//
// A document with mistakes comes back as well, as far as it was understood. No
// text of it is lost: a line with a mistake stands in it as a remark that begins
// with [NotUnderstood]. Only where the header does not say which harp, and
// Harp.Layout has no holes, can the document not be written again.
//
// The pitches of an event are those that its tab gives on the harp, shifted by
// the recording's tuning; an event without a question mark has confidence 1.
// Writing the document again gives the same text, byte for byte, if WriteText
// wrote it, and otherwise the same content in WriteText's columns.
func Parse(r io.Reader) (Document, error) { return parse(r, parser{}) }

// ParseFor is [Parse] for a text whose header may leave out the harp, which is then h.
func ParseFor(r io.Reader, h harp.Harp) (Document, error) { return parse(r, parser{given: &h}) }

func parse(r io.Reader, p parser) (Document, error) {
	data, err := io.ReadAll(r)
	if err != nil {
		return Document{}, fmt.Errorf("reading tab: %w", err)
	}
	p.inHeader, p.seen = true, map[string]bool{}
	p.lines = textLines(data)
	for i := range p.lines {
		p.line = i + 1
		p.parseLine(p.lines[i])
	}
	p.endHeader()
	p.assemble()
	if len(p.errs) == 0 {
		return p.doc, nil
	}
	slices.SortStableFunc(p.errs, func(a, b Error) int {
		if a.Line != b.Line {
			return a.Line - b.Line
		}
		return a.Column - b.Column
	})
	for i := range p.errs {
		p.errs[i].Source = p.lines[p.errs[i].Line-1]
	}
	return p.doc, p.errs
}

// decoded is the text of a file in UTF-8. Bytes that are not UTF-8 are taken for
// Latin-1, with the apostrophe of Windows-1252.
func decoded(data []byte) string {
	if utf8.Valid(data) {
		return string(data)
	}
	var b strings.Builder
	for len(data) > 0 {
		r, n := utf8.DecodeRune(data)
		if r == utf8.RuneError && n == 1 {
			r = rune(data[0])
			if r == 0x92 {
				r = '’'
			}
		}
		b.WriteRune(r)
		data = data[n:]
	}
	return b.String()
}

type parser struct {
	doc   Document
	errs  Errors
	lines []string
	line  int  // number of the current line
	bad   bool // the current line has a mistake
	counted

	version  bool // the version line was seen or missed
	missed   bool // it was missed
	inHeader bool
	given    *harp.Harp      // if the header names none
	seen     map[string]bool // header lines that were seen
	harpKey  textAt
	layout   textAt
	blow     textAt
	draw     textAt
	song     textAt
	harpOK   bool // doc.Harp is known, so tokens can be read
	songOK   bool // doc.SongKey is as the header says
	columns  bool // a line of column names was seen

	phrases []parsedPhrase
	bars    []parsedBar
	events  []parsedEvent
	remarks []parsedRemark
}

// textAt is text and where it stands: the line, and the column in bytes from 0.
type textAt struct {
	text     string
	line, at int
}

type parsedPhrase struct {
	line  int
	timed bool
	Phrase
}

type parsedBar struct {
	line int
	Bar
}

type parsedEvent struct {
	phrase int  // index of the phrase whose heading it stands under, or -1
	placed bool // the line says where in the bar it starts, at
	at     Place
	timed  bool // the line says when it starts
	long   bool // the line says how long it lasts
	bad    bool // the line has a mistake
	Event
}

type parsedRemark struct {
	line   int
	header bool
	text   string
}

// fail records a mistake in the current line, at byte offset at of text.
func (p *parser) fail(text string, at int, format string, args ...any) {
	p.counted = p.counted.to(text, at)
	p.errs = append(p.errs, Error{Line: p.line, Column: p.counted.column(), Text: fmt.Sprintf(format, args...)})
	p.bad = true
}

// counted is how many characters of a line stand before a byte offset. Counting goes on from
// the last mistake, since a line may have many thousands.
type counted struct {
	text       string
	at, before int
}

// to a byte offset of a line.
func (c counted) to(text string, at int) counted {
	at = min(at, len(text))
	if at < c.at || text != c.text {
		c = counted{text: text}
	}
	c.before += utf8.RuneCountInString(text[c.at:at])
	c.at = at
	return c
}

// column counts in characters from 1.
func (c counted) column() int { return c.before + 1 }

// tellStale records stale degrees in the current line, which is read all the same.
func (p *parser) tellStale(text string, at int, format string, args ...any) {
	was := p.bad
	p.fail(text, at, format, args...)
	p.errs[len(p.errs)-1].Stale = true
	p.bad = was
}

// failAt records a mistake at a place of another line.
func (p *parser) failAt(at textAt, err error) {
	column := 1
	if at.line > 0 {
		column += utf8.RuneCountInString(p.lines[at.line-1][:at.at])
	}
	p.errs = append(p.errs, Error{Line: max(1, at.line), Column: column, Text: err.Error()})
}

// keep makes a remark of a line that was not understood.
func (p *parser) keep(line int, header bool) {
	text := strings.TrimSpace(clean(p.lines[line-1]))
	p.remarks = append(p.remarks, parsedRemark{line, header, NotUnderstood + text})
}

// parseLine reads one line; what is wrong with it as a whole is kept.
func (p *parser) parseLine(text string) {
	p.bad = false
	before, wasHeader := len(p.remarks), p.inHeader
	p.parseWords(text)
	if p.bad {
		others := slices.DeleteFunc(p.remarks[before:], func(r parsedRemark) bool { return r.line == p.line })
		p.remarks = p.remarks[:before+len(others)]
		p.keep(p.line, wasHeader && p.inHeader)
	}
}

func (p *parser) parseWords(text string) {
	header := isHeader(text)
	content := text
	if !header {
		content = p.takeComment(text)
	}
	words := splitWords(content)
	if len(words) == 0 {
		return
	}
	if !p.version && p.parseVersion(text, words, header) {
		return
	}
	switch first := words[0].text; {
	case header:
		p.parseHeader(text)
	case areColumns(words):
		p.endHeader()
		p.columns = true
	case strings.EqualFold(first, "bar"):
		p.endHeader()
		p.parseBar(text, words)
	case first == "space":
		p.endHeader()
		p.parseSpace(text, words)
	case strings.EqualFold(first, "marks"), markPlace(strings.ToLower(first)) >= 0:
		p.endHeader()
		p.parseLegend(text, words)
	case strings.EqualFold(first, "phrase"):
		p.endHeader()
		p.parsePhrase(text, words)
	case beginsEvent(first):
		p.endHeader()
		p.parseEvent(text, content, words)
	default:
		p.fail(text, words[0].at, "%q begins no line of a tab document; want a time such as 0:02.413, tab "+
			"such as -4, Phrase, or # for a comment", first)
	}
}

// beginsEvent reports whether a word is a time or tab.
func beginsEvent(word string) bool {
	return breathWord(word) != "" ||
		word != "" && strings.ContainsAny(plainSigns.Replace(word)[:1], "0123456789+-[({")
}

// areColumns reports whether the words are names of columns, as in the line
// above the events.
func areColumns(words []textAt) bool {
	for _, w := range words {
		if !slices.Contains([]string{"time", "length", "bar", "tab", "degree", "marks"}, w.text) {
			return false
		}
	}
	return true
}

// takeComment keeps the comment of a line and returns what stands before it.
func (p *parser) takeComment(text string) string {
	at := commentAt(text)
	if at < 0 {
		return text
	}
	content := text[:at]
	words := splitWords(content)
	if len(words) > 0 && beginsEvent(words[0].text) {
		return content // parseEvent keeps it with the event
	}
	p.remarks = append(p.remarks, parsedRemark{p.line, p.inHeader && len(words) == 0, commentIn(text, at)})
	return content
}

// commentIn is the comment whose # stands at a byte offset.
func commentIn(text string, at int) string { return strings.TrimPrefix(clean(text[at+1:]), " ") }

// commentAt is where the # of a line's comment stands, or -1.
func commentAt(text string) int {
	for i := range len(text) {
		if text[i] == '#' && (i == 0 || text[i-1] == ' ' || text[i-1] == '\t') {
			return i
		}
	}
	return -1
}

var closings = map[byte]string{'[': "]", '{': "}", '(': ")"}

// splitWords splits at spaces and tabs, but keeps brackets and braces whole.
func splitWords(text string) []textAt {
	var out []textAt
	missing := "" // closing brackets that do not come any more
	for i := 0; i < len(text); {
		r, n := utf8.DecodeRuneInString(text[i:])
		if unicode.IsSpace(r) {
			i += n
			continue
		}
		end := i
		if closing := closings[text[i]]; closing != "" && !strings.Contains(missing, closing) {
			if n := strings.Index(text[i:], closing); n > 0 {
				end = i + n
			} else {
				missing += closing
			}
		}
		if n := strings.IndexFunc(text[end:], unicode.IsSpace); n >= 0 {
			end += n
		} else {
			end = len(text)
		}
		out = append(out, textAt{text: text[i:end], at: i})
		i = end
	}
	return out
}

// parseVersion reads the first line that says anything, and reports whether that
// is all there is to it. If it is missing, the line may be one of the header.
func (p *parser) parseVersion(text string, words []textAt, header bool) bool {
	p.version = true
	want := fmt.Sprintf("%s %d", versionLine, Version)
	got := make([]string, len(words))
	for i := range words {
		got[i] = words[i].text
	}
	switch line := strings.Join(got, " "); {
	case line == want:
	case strings.HasPrefix(line, versionLine+" "):
		p.fail(text, words[0].at, "this is version %s; this program reads version %d",
			strings.TrimPrefix(line, versionLine+" "), Version)
	case header || p.beginsLine(words):
		p.missed = true
		return false
	default:
		p.fail(text, words[0].at, "not a tab document: want the line %q here", want)
	}
	return true
}

// beginsLine reports whether words may begin a line of the body.
func (p *parser) beginsLine(words []textAt) bool {
	first := words[0].text
	return areColumns(words) || strings.EqualFold(first, "bar") || strings.EqualFold(first, "phrase") ||
		beginsEvent(first)
}

// parseLegend wants a line of the list of marks as it is written.
func (p *parser) parseLegend(text string, words []textAt) {
	said := make([]string, len(words)-1)
	for i, w := range words[1:] {
		said[i] = w.text
	}
	meaning := ""
	if i := markPlace(strings.ToLower(words[0].text)); i >= 0 {
		meaning = strings.Join(strings.Fields(MarkWords()[i].Meaning), " ")
	}
	if strings.Join(said, " ") != meaning {
		p.fail(text, words[0].at, "%q begins no event; want a mark behind its note, such as -4 scoop, "+
			"or # for a comment", words[0].text)
	}
}

func (p *parser) parseSpace(text string, words []textAt) {
	if len(words) > 1 && areLengths(words[1:]) {
		return
	}
	p.fail(text, words[0].at, "not a space; want one such as space 1.4 s, or delete the line")
}

// areLengths reports whether the words are a length in seconds, and perhaps in
// beats, as in 1.4 s, 2.3 beats.
func areLengths(words []textAt) bool {
	if len(words) != 2 && len(words) != 4 {
		return false
	}
	for i, unit := range []string{"s", "beats"}[:len(words)/2] {
		_, err := parseNumber(words[2*i].text)
		if err != nil || strings.TrimSuffix(words[2*i+1].text, ",") != unit {
			return false
		}
	}
	return true
}

// parseBar reads a bar line: number, time and chords.
func (p *parser) parseBar(text string, words []textAt) {
	if len(words) < 3 {
		p.fail(text, words[0].at, "not a bar line; want one such as bar 5  0:12.345, and perhaps a "+
			"chord such as IV")
		return
	}
	b := parsedBar{line: p.line}
	var err error
	if b.Number, err = strconv.Atoi(words[1].text); err != nil || b.Number < -9999 || b.Number > 99999 {
		p.fail(text, words[1].at, "%q is not the number of a bar", words[1].text)
		return
	}
	if b.Start, err = parseClock(words[2].text); err != nil {
		p.fail(text, words[2].at, "%v", err)
		return
	}
	words = words[3:]
	if i := slices.IndexFunc(words, func(w textAt) bool { return strings.HasPrefix(w.text, "?") }); i >= 0 {
		if b.Confidence, err = parseDoubtAlone(joined(words[i:])); err != nil {
			p.fail(text, words[i].at, "%v behind the question mark", err)
			return
		}
		b.Confidence = max(b.Confidence, 0.01) // 0 is none told
		words = words[:i]
	}
	chords := make([]string, len(words))
	for i, w := range words {
		chords[i] = w.text
	}
	if b.Chord = strings.Join(chords, " "); checkChord(b.Chord) != nil {
		p.fail(text, words[0].at, "%v", checkChord(b.Chord))
		return
	}
	p.bars = append(p.bars, b)
}

func (p *parser) parsePhrase(text string, words []textAt) {
	ph := parsedPhrase{line: p.line}
	rest := words[1:]
	if n := len(rest); n > 0 && isChecked(rest[n-1].text) {
		ph.Checked, rest = true, rest[:n-1]
	}
	if len(rest) > 0 {
		if _, err := strconv.ParseUint(rest[0].text, 10, 31); err == nil {
			rest = rest[1:]
		}
	}
	switch {
	case len(rest) == 0:
	case len(rest) == 3 && rest[1].text == "to", len(rest) > 3 && rest[1].text == "to" &&
		areLengths(rest[3:]):
		var err error
		if ph.Start, ph.End, err = parseSpan(rest[0].text + " to " + rest[2].text); err != nil {
			p.fail(text, rest[0].at, "%v", err)
			return
		}
		ph.timed = true
	default:
		p.fail(text, rest[0].at, "not the heading of a phrase; want one such as Phrase 1  "+
			"0:02.413 to 0:05.902")
		return
	}
	p.phrases = append(p.phrases, ph)
}

// parseEvent reads the line of an event, or of several. Its time, or its time and
// length, or its length alone may be missing.
func (p *parser) parseEvent(text, content string, words []textAt) {
	e := parsedEvent{phrase: len(p.phrases) - 1}
	e.Line, e.Confidence = p.line, 1
	if at := commentAt(text); at >= 0 {
		e.Comment = commentIn(text, at)
	}
	if !isTime(words[0].text) && !strings.Contains(words[0].text, "|") {
		words = splitCommas(words)
	}
	words = joinBreaths(words)
	if isTime(words[0].text) {
		start, err := parseClock(words[0].text)
		if err != nil {
			p.fail(text, words[0].at, "%v", err)
		}
		e.Start, e.timed = start, err == nil
		words = p.parseLength(&e, text, words[1:])
	}
	if len(words) > 0 && strings.Contains(words[0].text, "|") {
		at, err := parsePlace(words[0].text)
		if err != nil {
			p.fail(text, words[0].at, "%v", err)
		}
		e.at, e.placed = at, err == nil
		words = words[1:]
	}
	events := []parsedEvent{e}
	if len(words) == 0 {
		p.fail(text, len(content), "an event needs what is played, such as 0:02.413  0.308  -4")
	} else {
		events = p.parseNotes(e, text, content, words)
	}
	for _, e := range events {
		e.bad = p.bad
		p.events = append(p.events, e)
	}
}

// isTime reports whether a word is meant as a time: it has a colon, or is seconds with a point.
func isTime(word string) bool { return strings.Contains(word, ":") || secondsForm.MatchString(word) }

var secondsForm = regexp.MustCompile(`^[0-9]+\.[0-9]+$`)

// parseLength reads the length of an event, unless it is left out: a number
// alone is tab.
func (p *parser) parseLength(e *parsedEvent, text string, words []textAt) []textAt {
	if len(words) == 0 {
		return words
	}
	w := words[0]
	length, err := parseNumber(w.text)
	alone := len(words) == 1 || strings.HasPrefix(words[1].text, "?")
	if len(words) > 1 {
		_, marked := parseMark(words[1].text)
		alone = alone || marked || isChecked(words[1].text)
	}
	switch {
	case err == nil && !alone && length >= 0 && length <= 1e6 && !strings.HasPrefix(w.text, "+"):
		e.End, e.long = float64(Millis(e.Start)+Millis(length))/1000, true
		return words[1:]
	case isToken(w.text), strings.Contains(w.text, "|"):
		return words // the length is left out
	case alone && err != nil:
		return words // no length can be meant
	}
	p.fail(text, w.at, "%q is not a length; want seconds, such as 0.308", w.text)
	return words[1:]
}

// isToken reports whether a word has the form of what is played, on whatever
// harp.
func isToken(word string) bool {
	return strings.ContainsAny(word[:1], "[({") ||
		noteForm.MatchString(plainSigns.Replace(strings.Split(word, "/")[0]))
}

// parseDoubtAlone reads a question mark and a share, if there is one.
func parseDoubtAlone(s string) (float64, error) {
	share := strings.TrimSpace(strings.TrimPrefix(s, "?"))
	if share == "" {
		return bareDoubt, nil
	}
	return parsePercent(share)
}

func parsePercent(s string) (float64, error) {
	n, err := strconv.ParseUint(strings.TrimSuffix(s, "%"), 10, 8)
	if err != nil || n > 100 || !strings.HasSuffix(s, "%") {
		return 0, fmt.Errorf("%q is not a share; want 0%% to 100%%", s)
	}
	return float64(n) / 100, nil
}
