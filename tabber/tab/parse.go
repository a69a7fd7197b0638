package tab

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"blowdraw/tabber/harp"
)

// Error is a mistake in a text document. Line and Column count from 1, the
// column in characters.
type Error struct {
	Line, Column int
	Text         string
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

// Parse reads a text document in the form that the package comment describes.
// Mistakes in it come back together as [Errors], each with its line and column.
//
// The pitches of an event are those that its tab gives on the harp, shifted by
// the recording's tuning; an event without a question mark has confidence 1.
// Writing the document again gives the same text, byte for byte, if WriteText
// wrote it, and otherwise the same content in WriteText's columns.
func Parse(r io.Reader) (Document, error) {
	data, err := io.ReadAll(r)
	if err != nil {
		return Document{}, fmt.Errorf("reading tab: %w", err)
	}
	p := parser{inHeader: true, seen: map[string]bool{}}
	text := strings.TrimPrefix(string(data), "\ufeff")
	for i, line := range strings.Split(text, "\n") {
		p.line = i + 1
		p.parseLine(strings.TrimSuffix(line, "\r"))
	}
	p.endHeader()
	p.endPhrases()
	if len(p.errs) > 0 {
		slices.SortStableFunc(p.errs, func(a, b Error) int {
			if a.Line != b.Line {
				return a.Line - b.Line
			}
			return a.Column - b.Column
		})
		return Document{}, p.errs
	}
	return p.doc, nil
}

type parser struct {
	doc  Document
	errs Errors
	line int // number of the current line

	version  bool // the version line was seen
	inHeader bool
	seen     map[string]bool // header lines that were seen
	harpKey  placed
	layout   placed
	blow     placed
	draw     placed
	song     placed
	harpOK   bool // doc.Harp is known, so tokens can be read

	phrases []parsedPhrase
	events  []parsedEvent
}

// placed is text and where it stands: the line, and the column in bytes from 0.
type placed struct {
	text     string
	line, at int
}

type parsedPhrase struct {
	line  int
	timed bool
	Phrase
}

type parsedEvent struct {
	line   int
	phrase int // index of the phrase whose heading it stands under, or -1
}

// fail records a mistake in the current line, at byte offset at of text.
func (p *parser) fail(text string, at int, format string, args ...any) {
	column := utf8.RuneCountInString(text[:min(at, len(text))]) + 1
	p.errs = append(p.errs, Error{p.line, column, fmt.Sprintf(format, args...)})
}

func (p *parser) parseLine(text string) {
	content := text
	if !p.isHeader(text) {
		content = p.takeComment(text)
	}
	words := splitWords(content)
	switch {
	case len(words) == 0:
	case !p.version:
		p.parseVersion(text, words)
	case p.isHeader(text):
		p.parseHeader(text)
	case words[0].text == "time":
		p.endHeader()
	case words[0].text == "space":
		p.endHeader()
		p.parseSpace(text, words)
	case strings.EqualFold(words[0].text, "phrase"):
		p.endHeader()
		p.parsePhrase(text, words)
	case words[0].text[0] >= '0' && words[0].text[0] <= '9':
		p.endHeader()
		p.parseEvent(text, content, words)
	default:
		p.fail(text, words[0].at, "%q begins no line of a tab document; want a time such as 0:02.413, Phrase, or # for a comment", words[0].text)
	}
}

// takeComment keeps the comment of a line and returns what stands before it.
func (p *parser) takeComment(text string) string {
	at := commentAt(text)
	if at < 0 {
		return text
	}
	comment := strings.TrimPrefix(clean(text[at+1:]), " ")
	content := text[:at]
	words := splitWords(content)
	if len(words) > 0 && words[0].text[0] >= '0' && words[0].text[0] <= '9' {
		return content // parseEvent keeps it with the event
	}
	before := len(p.doc.Events)
	if p.inHeader && len(words) == 0 {
		before = -1
	}
	p.doc.Remarks = append(p.doc.Remarks, Remark{before, comment})
	return content
}

// commentAt is where the # of a line's comment stands, or -1.
func commentAt(text string) int {
	for i := range len(text) {
		if text[i] == '#' && (i == 0 || text[i-1] == ' ' || text[i-1] == '\t') {
			return i
		}
	}
	return -1
}

// splitWords splits at spaces and tabs, but keeps brackets and braces whole.
func splitWords(text string) []placed {
	var out []placed
	for i := 0; i < len(text); {
		if text[i] == ' ' || text[i] == '\t' {
			i++
			continue
		}
		end := i
		closing := map[byte]string{'[': "]", '{': "}"}[text[i]]
		if n := strings.Index(text[i:], closing); closing != "" && n > 0 {
			end = i + n
		}
		for end < len(text) && text[end] != ' ' && text[end] != '\t' {
			end++
		}
		out = append(out, placed{text: text[i:end], at: i})
		i = end
	}
	return out
}

func (p *parser) parseVersion(text string, words []placed) {
	p.version = true
	want := fmt.Sprintf("%s %d", versionLine, Version)
	got := make([]string, len(words))
	for i := range words {
		got[i] = words[i].text
	}
	switch line := strings.Join(got, " "); {
	case line == want:
	case strings.HasPrefix(line, versionLine+" "):
		p.fail(text, words[0].at, "this is version %s; this program reads version %d", strings.TrimPrefix(line, versionLine+" "), Version)
	default:
		p.fail(text, words[0].at, "not a tab document: want the line %q here", want)
	}
}

const headerNames = "recording, section, harp, layout, blow, draw, song, tuning, tempo, channel, ear, note"

// isHeader reports whether a line begins with letters and a colon.
func (p *parser) isHeader(text string) bool {
	name, _, found := strings.Cut(strings.TrimLeft(text, " \t"), ":")
	name = strings.TrimRight(name, " \t")
	return found && name != "" && strings.Trim(strings.ToLower(name), "abcdefghijklmnopqrstuvwxyz") == ""
}

func (p *parser) parseHeader(text string) {
	name, value, _ := strings.Cut(text, ":")
	at := len(name) + 1 + len(value) - len(strings.TrimLeft(value, " \t"))
	nameAt := len(name) - len(strings.TrimLeft(name, " \t"))
	name = strings.ToLower(strings.TrimSpace(name))
	value = valueText(value)
	switch {
	case !p.inHeader:
		p.fail(text, nameAt, "header line %q belongs above the first event", name)
		return
	case p.seen[name] && name != "note":
		p.fail(text, nameAt, "a second %q line", name)
		return
	case value == "":
		return
	}
	p.seen[name] = true
	here := placed{value, p.line, at}
	var err error
	switch name {
	case "recording":
		p.doc.Recording = value
	case "channel":
		p.doc.Channel = value
	case "ear":
		p.doc.Ear = value
	case "note":
		p.doc.Notes = append(p.doc.Notes, value)
	case "harp":
		p.harpKey = here
	case "layout":
		p.layout = here
	case "blow":
		p.blow = here
	case "draw":
		p.draw = here
	case "song":
		p.song = here
	case "section":
		p.doc.From, p.doc.To, err = parseSpan(value)
	case "tuning":
		p.doc.TuningCents, err = parseTuning(value)
	case "tempo":
		p.doc.BPM, err = parseTempo(value)
	default:
		p.fail(text, nameAt, "header line %q is not known; want one of %s", name, headerNames)
	}
	if err != nil {
		p.fail(text, at, "%v", err)
	}
}

func parseSpan(s string) (from, to float64, err error) {
	a, b, found := strings.Cut(s, " to ")
	if !found {
		return 0, 0, fmt.Errorf("%q is no section; want two times such as 0:00.000 to 0:15.000", s)
	}
	if from, err = parseClock(strings.TrimSpace(a)); err != nil {
		return 0, 0, err
	}
	if to, err = parseClock(strings.TrimSpace(b)); err != nil {
		return 0, 0, err
	}
	if to < from {
		return 0, 0, fmt.Errorf("%s ends before it starts", s)
	}
	return from, to, nil
}

func parseTuning(s string) (float64, error) {
	f := strings.Fields(s)
	sign := map[string]float64{"sharp": 1, "flat": -1}
	if len(f) < 2 || len(f) > 3 || f[1] != "cents" || len(f) == 3 && sign[f[2]] == 0 {
		return 0, fmt.Errorf("%q is no tuning; want cents, such as 12.3 cents flat", s)
	}
	v, err := parseNumber(f[0])
	if err != nil || math.Abs(v) > 1200 {
		return 0, fmt.Errorf("%q is no tuning; want at most 1200 cents, such as 12.3 cents flat", s)
	}
	if len(f) == 3 {
		v *= sign[f[2]]
	}
	return round1(v), nil
}

func parseTempo(s string) (float64, error) {
	number, _ := strings.CutSuffix(s, "bpm")
	v, err := parseNumber(strings.TrimSpace(number))
	if err != nil || v < 1 || v > 1000 {
		return 0, fmt.Errorf("%q is no tempo; want beats a minute, such as 112.0 bpm", s)
	}
	return round1(v), nil
}

// parseNumber reads a plain decimal number.
func parseNumber(s string) (float64, error) {
	if strings.Trim(s, "+-0123456789.") != "" {
		return 0, fmt.Errorf("%q is not a number", s)
	}
	return strconv.ParseFloat(s, 64)
}

// parseClock reads minutes and seconds as seconds, to the millisecond.
func parseClock(s string) (float64, error) {
	m, sec, found := strings.Cut(s, ":")
	minutes, err := strconv.ParseUint(m, 10, 24)
	v, err2 := parseNumber(sec)
	if !found || err != nil || err2 != nil || strings.ContainsAny(sec, "+-") || v >= 60 {
		return 0, fmt.Errorf("%q is not a time; want minutes and seconds, such as 0:02.413", s)
	}
	return float64(60000*int(minutes)+millis(v)) / 1000, nil
}

// failAt records a mistake at a place of another line.
func (p *parser) failAt(at placed, err error) {
	p.errs = append(p.errs, Error{at.line, at.at + 1, err.Error()})
}

// endHeader makes the harp of the header lines, once, before the first line
// that needs it.
func (p *parser) endHeader() {
	if !p.inHeader {
		return
	}
	p.inHeader = false
	if !p.version {
		p.errs = append(p.errs, Error{1, 1, fmt.Sprintf("not a tab document: want the line %q first", fmt.Sprintf("%s %d", versionLine, Version))})
		return
	}
	for _, need := range []struct {
		name  string
		value placed
	}{{"harp", p.harpKey}, {"song", p.song}} {
		if need.value.text == "" {
			p.errs = append(p.errs, Error{p.line, 1, fmt.Sprintf("the header has no %q line", need.name)})
		}
	}
	layout, ok := p.readLayout()
	if p.harpKey.text == "" || !ok {
		return
	}
	h, err := harp.Parse(p.harpKey.text, layout)
	if err != nil {
		p.failAt(p.harpKey, err)
		return
	}
	p.doc.Harp, p.harpOK = h, true
	if p.song.text != "" {
		if err := p.parseSong(p.song.text); err != nil {
			p.failAt(p.song, err)
		}
	}
}

func (p *parser) readLayout() (harp.Layout, bool) {
	name := p.layout.text
	if p.blow.text == "" && p.draw.text == "" {
		if name == "" {
			name = harp.Layouts()[0].Name
		}
		l, err := harp.ParseLayout(name)
		if err != nil {
			p.failAt(p.layout, err)
		}
		return l, err == nil
	}
	if p.blow.text == "" || p.draw.text == "" {
		p.failAt(placed{line: max(p.blow.line, p.draw.line)}, fmt.Errorf("a layout of your own needs both a blow and a draw line"))
		return harp.Layout{}, false
	}
	if name == "" {
		name = "custom"
	}
	l, err := harp.ReadLayout(strings.NewReader("name: " + name + "\nblow: " + p.blow.text + "\ndraw: " + p.draw.text + "\n"))
	if err != nil {
		p.failAt(placed{line: p.blow.line, at: p.blow.at}, err)
	}
	return l, err == nil
}

// parseSong reads the song's key and, behind a comma, the position, which must
// agree with the harp.
func (p *parser) parseSong(s string) error {
	key, position, found := strings.Cut(s, ",")
	pc, err := harp.ParseKey(key)
	if err != nil {
		return err
	}
	p.doc.SongKey = pc
	if !found {
		return nil
	}
	word, _ := strings.CutSuffix(strings.TrimSpace(position), "position")
	n := slices.Index(ordinals[1:], strings.ToLower(strings.TrimSpace(word))) + 1
	if n == 0 {
		return fmt.Errorf("%q is no position; want first to twelfth, such as second position", strings.TrimSpace(position))
	}
	if want := p.doc.position(); n != want {
		return fmt.Errorf("on this harp %s is %s position, not %s", p.doc.Harp.KeyName(pc), ordinals[want], ordinals[n])
	}
	return nil
}

func (p *parser) parseSpace(text string, words []placed) {
	if len(words) == 3 && words[2].text == "s" {
		if _, err := parseNumber(words[1].text); err == nil {
			return
		}
	}
	p.fail(text, words[0].at, "not a space; want one such as space 1.4 s, or delete the line")
}

func (p *parser) parsePhrase(text string, words []placed) {
	ph := parsedPhrase{line: p.line}
	rest := words[1:]
	if len(rest) > 0 {
		if _, err := strconv.ParseUint(rest[0].text, 10, 31); err == nil {
			rest = rest[1:]
		}
	}
	switch {
	case len(rest) == 0:
	case len(rest) == 3 && rest[1].text == "to":
		var err error
		if ph.Start, ph.End, err = parseSpan(rest[0].text + " to " + rest[2].text); err != nil {
			p.fail(text, rest[0].at, "%v", err)
			return
		}
		ph.timed = true
	default:
		p.fail(text, rest[0].at, "not the heading of a phrase; want one such as Phrase 1  0:02.413 to 0:05.902")
		return
	}
	p.phrases = append(p.phrases, ph)
}

func (p *parser) parseEvent(text, content string, words []placed) {
	var e Event
	if at := commentAt(text); at >= 0 {
		e.Comment = strings.TrimPrefix(clean(text[at+1:]), " ")
	}
	above := 0.0
	if n := len(p.doc.Events); n > 0 {
		above = p.doc.Events[n-1].Start
	}
	start, err := parseClock(words[0].text)
	switch {
	case err != nil:
		p.fail(text, words[0].at, "%v", err)
	case start < above:
		p.fail(text, words[0].at, "starts before the event above it, at %s", clock(millis(above)))
	}
	e.Start = max(start, above)
	if len(words) < 3 {
		p.fail(text, len(content), "an event needs a time, a length and what is played, such as 0:02.413  0.308  -4")
		return
	}
	length, err := parseNumber(words[1].text)
	if err != nil || length < 0 || length > 1e6 {
		p.fail(text, words[1].at, "%q is not a length; want seconds, such as 0.308", words[1].text)
	}
	e.End = float64(millis(e.Start)+millis(length)) / 1000
	p.parsePlayed(&e, text, words[2])
	e.Confidence = 1
	for _, w := range words[3:] {
		if strings.HasPrefix(w.text, "?") {
			p.parseDoubt(&e, text, content, w.at)
			break
		}
		if !readingAids[strings.ToLower(w.text)] {
			p.fail(text, w.at, "%q is neither a degree nor an interval; put ? before a doubt, # before a comment, brackets round notes played together", w.text)
			break
		}
	}
	p.doc.Events = append(p.doc.Events, e)
	p.events = append(p.events, parsedEvent{p.line, len(p.phrases) - 1})
}

// readingAids are the words that may stand between the tab and the doubt.
var readingAids = func() map[string]bool {
	words := map[string]bool{}
	for n := range 60 {
		words[harp.Degree(n, 0)] = true
		for _, w := range strings.Fields(harp.Interval(n)) {
			words[w] = true
		}
	}
	return words
}()

// parsePlayed reads the tab, or the pitches in braces, of an event.
func (p *parser) parsePlayed(e *Event, text string, w placed) {
	var err error
	if strings.HasPrefix(w.text, "{") {
		e.Pitches, err = parsePitches(w.text, p.doc.TuningCents)
	} else if p.harpOK {
		e.Actions, err = ParseToken(p.doc.Harp, w.text)
	}
	if err != nil {
		p.fail(text, w.at, "%v", err)
		return
	}
	for _, a := range e.Actions {
		e.Pitches = append(e.Pitches, float64(p.doc.Harp.MIDI(a))+p.doc.TuningCents/100)
	}
	e.Texture = Texture(e.Actions)
}

// parseDoubt reads the doubt of an event, whose question mark stands at a byte
// offset of the line's content.
func (p *parser) parseDoubt(e *Event, text, content string, at int) {
	at++
	parts := strings.Split(content[at:], ",")
	var err error
	if e.Confidence, err = parsePercent(strings.TrimSpace(parts[0])); err != nil {
		p.fail(text, at, "%v behind the question mark", err)
		return
	}
	at += len(parts[0]) + 1
	for i, part := range parts[1:] {
		start := at + len(part) - len(strings.TrimLeft(part, " \t"))
		at += len(part) + 1
		option := strings.TrimSpace(part)
		if word, rest, found := strings.Cut(option, " "); i == 0 && found && (word == "or" || word == "nearest") {
			option = strings.TrimSpace(rest)
		} else if i == 0 {
			p.fail(text, start, "want or, or nearest, before the other readings")
			return
		}
		alt, err := p.parseOption(option)
		if err != nil {
			p.fail(text, start, "%v", err)
			return
		}
		e.Alternatives = append(e.Alternatives, alt)
	}
}

func (p *parser) parseOption(s string) (Alternative, error) {
	var a Alternative
	cut := strings.LastIndexAny(s, " \t")
	if cut < 0 {
		return a, fmt.Errorf("%q is not a reading; want tab and percents, such as -3'' 25%%", s)
	}
	var err error
	if a.Confidence, err = parsePercent(s[cut+1:]); err != nil {
		return a, err
	}
	token := strings.TrimSpace(s[:cut])
	if token != "rest" && p.harpOK {
		a.Actions, err = ParseToken(p.doc.Harp, token)
	}
	return a, err
}

func parsePercent(s string) (float64, error) {
	n, err := strconv.ParseUint(strings.TrimSuffix(s, "%"), 10, 8)
	if err != nil || n > 100 || !strings.HasSuffix(s, "%") {
		return 0, fmt.Errorf("%q is not a share; want 0%% to 100%%", s)
	}
	return float64(n) / 100, nil
}

// endPhrases works out the times of phrases that give none, lets a phrase begin
// no later than its first event, and reports events that stand under the wrong
// heading.
func (p *parser) endPhrases() {
	for i := range p.phrases {
		ph := &p.phrases[i]
		first := true
		for j, e := range p.events {
			if e.phrase != i {
				continue
			}
			ev := p.doc.Events[j]
			if first && (!ph.timed || ev.Start < ph.Start) {
				ph.Start = ev.Start
			}
			if !ph.timed {
				ph.End = max(ph.End, ev.End)
			}
			first = false
		}
		if first && !ph.timed {
			p.errs = append(p.errs, Error{ph.line, 1, "a phrase without events needs times, such as Phrase 1  0:02.413 to 0:05.902"})
		}
		if i > 0 && ph.Start < p.phrases[i-1].Start {
			p.errs = append(p.errs, Error{ph.line, 1, "this phrase starts before the one above it"})
		}
		p.doc.Phrases = append(p.doc.Phrases, Phrase{ph.Start, max(ph.Start, ph.End)})
	}
	for j, e := range p.events {
		if i := phraseOf(p.doc.Phrases, p.doc.Events[j]); i > e.phrase {
			p.errs = append(p.errs, Error{e.line, 1, fmt.Sprintf("this event starts when phrase %d has begun, but stands above its heading", i+1)})
		}
	}
}
