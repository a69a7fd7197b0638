package tab

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"blowdraw/tabber/harp"
)

// breathWord is the letter of a breath that is written as a word, empty for others.
func breathWord(word string) string {
	switch strings.ToLower(word) {
	case "draw":
		return "D"
	case "blow":
		return "B"
	}
	return ""
}

// joinBreaths makes one word of a hole and the word of its breath, which stands
// before or behind it: 2 draw, blow 4. What stands behind a question mark stays.
func joinBreaths(words []textAt) []textAt {
	var out []textAt
	for i := 0; i < len(words); i++ {
		w := words[i]
		if strings.HasPrefix(w.text, "?") {
			return append(out, words[i:]...)
		}
		if i+1 < len(words) {
			next := words[i+1]
			switch {
			case breathWord(w.text) != "" && isNote(next.text):
				w.text = next.text + breathWord(w.text)
				i++
			case breathWord(next.text) != "" && isNote(w.text):
				w.text += breathWord(next.text)
				i++
			}
		}
		out = append(out, w)
	}
	return out
}

// isNote reports whether a word has the form of one note.
func isNote(word string) bool {
	return strings.ContainsAny(word, "0123456789") && noteForm.MatchString(plainSigns.Replace(word))
}

// splitCommas parts notes, and words of their breath, at the commas between them.
func splitCommas(words []textAt) []textAt {
	var out []textAt
	for i, w := range words {
		if strings.HasPrefix(w.text, "?") {
			return append(out, words[i:]...)
		}
		parts := noteParts(w)
		if slices.ContainsFunc(parts, func(p textAt) bool {
			return !isNote(p.text) && breathWord(p.text) == ""
		}) {
			parts = []textAt{w}
		}
		out = append(out, parts...)
	}
	return out
}

// noteParts are what stands between the commas of a word, if anything does.
func noteParts(w textAt) []textAt {
	var out []textAt
	at := w.at
	for part := range strings.SplitSeq(w.text, ",") {
		if part != "" {
			out = append(out, textAt{text: part, line: w.line, at: at})
		}
		at += len(part) + 1
	}
	if len(out) == 0 {
		return []textAt{w}
	}
	return out
}

// parseNotes reads a line from what is played on, as the event e or, on a line
// without time and place, as several.
func (p *parser) parseNotes(e parsedEvent, text, content string, words []textAt) []parsedEvent {
	lone := strings.TrimSpace(text[:words[0].at]) == ""
	played := words[0]
	var others, behind []textAt // words that are no marks; all up to the doubt
	doubt := -1
	for _, w := range words[1:] {
		if strings.HasPrefix(w.text, "?") {
			doubt = w.at
			break
		}
		behind = append(behind, w)
		if _, ok := parseMark(w.text); !ok && !isChecked(w.text) {
			others = append(others, w)
		}
	}
	p.parsePlayed(&e.Event, text, played)
	events := []parsedEvent{e}
	switch {
	case len(others) == 0:
	case !p.harpOK || p.bad:
		p.wantKnown(text, others)
	case p.areDegrees(e.Event, others):
		if areNotes(others) && (lone || !p.inColumn(text, played, others[0])) {
			p.refuse(e, text, played, others, lone)
		}
	case lone && areNotes(others):
		if doubt >= 0 {
			p.fail(text, doubt, "a doubt goes with one note; want it on a line of its own")
			return events
		}
		if w, found := breathless(append([]textAt{played}, others...)); found && saysBreath(text) {
			p.fail(text, w.at, "is %s drawn or blown? Where a word says the breath of one note, want a sign "+
				"or a word at each, such as -4 -5 +6", w.text)
			return events
		}
		return p.parseRun(e, text, behind)
	case e.timed && e.long && p.inColumn(text, played, others[0]) && areAids(others):
		p.tellStale(text, others[0].at, "%s is not the degree of %s, which is %s; delete it, or put notes that "+
			"sound together in brackets", joined(others), played.text, joined(p.degreeWords(e.Event)))
	default:
		p.refuse(e, text, played, others, lone)
	}
	events[0].Marks = marksOf(behind)
	events[0].Checked = slices.ContainsFunc(behind, func(w textAt) bool { return isChecked(w.text) })
	if doubt >= 0 {
		p.parseDoubt(&events[0].Event, text, content, doubt)
	}
	return events
}

// breathless is the first note that says nothing of its breath, which is then blow.
func breathless(words []textAt) (w textAt, found bool) {
	i := slices.IndexFunc(words, func(w textAt) bool {
		m := noteForm.FindStringSubmatch(plainSigns.Replace(w.text))
		return m != nil && m[1]+m[3]+m[5] == ""
	})
	if i < 0 {
		return w, false
	}
	return words[i], true
}

// saysBreath reports whether a line has a breath as a word.
func saysBreath(text string) bool {
	if at := commentAt(text); at >= 0 {
		text = text[:at]
	}
	words := strings.Fields(strings.ReplaceAll(text, ",", " "))
	return slices.ContainsFunc(words, func(w string) bool { return breathWord(w) != "" })
}

// parseRun reads notes that follow the event e on its line, each with its marks.
func (p *parser) parseRun(e parsedEvent, text string, behind []textAt) []parsedEvent {
	events := []parsedEvent{e}
	for _, w := range behind {
		last := &events[len(events)-1]
		if isChecked(w.text) {
			last.Checked = true
			continue
		}
		if m, ok := parseMark(w.text); ok {
			last.Marks = append(last.Marks, m)
			continue
		}
		next := parsedEvent{phrase: e.phrase}
		next.Line, next.Confidence = p.line, 1
		p.parsePlayed(&next.Event, text, w)
		events = append(events, next)
	}
	for _, e := range events {
		SortMarks(e.Marks)
	}
	return events
}

// marksOf are the marks among the words.
func marksOf(words []textAt) []Mark {
	var out []Mark
	for _, w := range words {
		if m, ok := parseMark(w.text); ok {
			out = append(out, m)
		}
	}
	SortMarks(out)
	return out
}

// areNotes reports whether all words have the form of what is played.
func areNotes(words []textAt) bool {
	return !slices.ContainsFunc(words, func(w textAt) bool { return !isToken(w.text) })
}

// areAids reports whether all words may stand in the degree column.
func areAids(words []textAt) bool {
	return !slices.ContainsFunc(words, func(w textAt) bool { return !readingAids[strings.ToLower(w.text)] })
}

// areDegrees reports whether the words are those that the degree column has for an
// event, in order, some left out perhaps. If the key is not known any degrees are.
func (p *parser) areDegrees(e Event, words []textAt) bool {
	want := p.degreeWords(e)
	if !p.songOK {
		return areAids(words) && len(words) <= len(want)
	}
	for _, w := range words {
		for len(want) > 0 && want[0].text != strings.ToLower(w.text) {
			want = want[1:]
		}
		if len(want) == 0 {
			return false
		}
		want = want[1:]
	}
	return true
}

// degreeWords are the words that the degree column has for an event, and the interval
// of two reeds or more.
func (p *parser) degreeWords(e Event) []textAt {
	var out []textAt
	for _, w := range append(p.doc.degrees(e), strings.Fields(p.doc.interval(e))...) {
		out = append(out, textAt{text: w})
	}
	return out
}

// inColumn reports whether a word behind what is played stands in the degree column.
func (p *parser) inColumn(text string, played, word textAt) bool {
	before := strings.TrimRightFunc(text[played.at:word.at], unicode.IsSpace)
	gap := text[played.at+len(before) : word.at]
	return p.columns && (utf8.RuneCountInString(gap) > 1 || gap == "\t")
}

// wantKnown reports the first of the words that can stand behind no tab.
func (p *parser) wantKnown(text string, words []textAt) {
	for _, w := range words {
		if !readingAids[strings.ToLower(w.text)] && !isToken(w.text) {
			p.failUnknown(text, w)
			return
		}
	}
}

// failUnknown reports a word that can stand behind no tab.
func (p *parser) failUnknown(text string, w textAt) {
	say := ""
	if strings.HasPrefix(strings.ToLower(w.text), "bend") {
		say = "; a bend is ' behind the hole, as in -3'"
	}
	p.fail(text, w.at, "%q is neither a degree, an interval nor a mark; put ? before a doubt, # before a "+
		"comment, brackets round notes played together%s", w.text, say)
}

// refuse says why words behind what is played are not taken for what they may be, and
// what to write.
func (p *parser) refuse(e parsedEvent, text string, played textAt, others []textAt, lone bool) {
	for _, w := range others {
		if !readingAids[strings.ToLower(w.text)] && !isToken(w.text) {
			p.failUnknown(text, w)
			return
		}
	}
	if !areNotes(others) && !areAids(others) {
		p.fail(text, others[0].at, "%s behind %s are neither its degree, which is %s, nor notes; want one "+
			"note a line, and no degrees, which are written afresh", joined(others), played.text,
			joined(p.degreeWords(e.Event)))
		return
	}
	if !areNotes(others) {
		p.fail(text, others[0].at, "%s is not the degree of %s, which is %s; delete it, it is written afresh",
			joined(others), played.text, joined(p.degreeWords(e.Event)))
		return
	}
	all := append([]textAt{played}, others...)
	var want []string
	if p.areDegrees(e.Event, others) {
		want = append(want, played.text+" alone if that is its degree")
	}
	if together := "[" + joined(all) + "]"; p.reads(together) {
		want = append(want, together+" for notes together")
	}
	if !lone {
		want = append(want, "one note a line for notes in turn")
	} else if signed := "+" + others[0].text; p.reads(signed) {
		want = append(want, joined(append([]textAt{played, {text: signed}}, others[1:]...))+
			" for notes in turn")
	} else {
		want = append(want, "one note a line for notes in turn")
	}
	length := ""
	if before := splitWords(text[:played.at]); len(before) > 1 && isNote(before[1].text) {
		length = " (" + before[1].text + " is the length)"
	}
	p.fail(text, others[0].at, "%s behind %s may be a note%s; want %s", joined(others), played.text, length,
		strings.Join(want, ", "))
}

// reads reports whether the harp plays a token.
func (p *parser) reads(token string) bool {
	_, err := ParseToken(p.doc.Harp, token)
	return err == nil
}

func joined(words []textAt) string {
	texts := make([]string, len(words))
	for i, w := range words {
		texts[i] = w.text
	}
	return strings.Join(texts, " ")
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
func (p *parser) parsePlayed(e *Event, text string, w textAt) {
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
