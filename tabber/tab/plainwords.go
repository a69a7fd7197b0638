package tab

import (
	"regexp"
	"slices"
	"strings"

	"blowdraw/tabber/harp"
)

// Kinds of words in plain tab.
type wordKind int

const (
	otherWord wordKind = iota
	barSign
	markSign
	bareNote // a hole that the harp may have, no more: a note or a number
	sureNote // a note by its sign, bend, letter or brackets
	oddNote  // looks like a note that can't be read
)

// manners are what the whole of a text says of how its notes are spelled.
type manners struct {
	barred   bool   // it has bar signs
	brackets bool   // a hole in round brackets is draw
	letters  bool   // the letter of the breath may stand before the hole
	flat     string // what a b behind a hole without a sign stands for: ' or B; empty if unclear
}

var (
	behindForm  = regexp.MustCompile(`^([0-9]+)('*|b*)([-+])('*|b*)$`)
	lettered    = regexp.MustCompile(`^([BD])([0-9]+)('*|b*)$`)
	flatForm    = regexp.MustCompile(`^[0-9]+b$`)
	signedFlat  = regexp.MustCompile(`^[-+][0-9]+b+$`)
	drawLetter  = regexp.MustCompile(`^[0-9]+[dD]('*|b*)$`)
	chordLetter = regexp.MustCompile(
		`^[ACEFG][#b♯♭]?(m|maj|min|dim|sus|7|9)*$|^[A-G][#b♯♭]?(m|maj|min|dim|sus)[0-9]*$`)
	inRound = regexp.MustCompile(`^\([0-9]+('*|b*)\)$`)
)

// decoration are signs behind a note that are no part of it.
const decoration = "~*^!._>…"

// isBarSign reports whether a word is a bar line, with repeats perhaps.
func isBarSign(word string) bool {
	return strings.Contains(word, "|") && strings.Trim(word, "|:") == ""
}

// isDash reports whether a word is only dashes.
func isDash(word string) bool { return strings.Trim(plainSigns.Replace(word), "-") == "" }

// plainWords are the words of a line, bar signs and notes between commas by themselves,
// holes and words of their breath together.
func plainWords(content string) []textAt {
	var out []textAt
	for _, w := range splitWords(content) {
		out = append(out, cutBars(w)...)
	}
	var parted []textAt
	for _, w := range out {
		parts := noteParts(w)
		if slices.ContainsFunc(
			parts,
			func(p textAt) bool { return !mayBeNote(p.text) && breathWord(p.text) == "" },
		) {
			parts = []textAt{w}
		}
		parted = append(parted, parts...)
	}
	return joinBreaths(parted)
}

// mayBeNote reports whether a word is a note in some manner.
func mayBeNote(word string) bool {
	token, _ := manners{letters: true}.plainToken(word)
	return isNote(token)
}

// cutBars parts a word at the bar signs in it.
func cutBars(w textAt) []textAt {
	if !strings.Contains(w.text, "|") {
		return []textAt{w}
	}
	var out []textAt
	for from := 0; from < len(w.text); {
		sign := strings.IndexByte("|:", w.text[from]) >= 0
		to := from + 1
		for to < len(w.text) && (strings.IndexByte("|:", w.text[to]) >= 0) == sign {
			to++
		}
		out = append(out, textAt{text: w.text[from:to], line: w.line, at: w.at + from})
		from = to
	}
	return out
}

// mannersOf a text. What stands in comments does not count.
func mannersOf(lines []string) manners {
	var words []string
	for _, text := range lines {
		if at := commentAt(text); at >= 0 {
			text = text[:at]
		}
		for _, w := range plainWords(text) {
			words = append(words, w.text)
		}
	}
	has := func(f func(word string) bool) bool { return slices.ContainsFunc(words, f) }
	bends, draws := has(signedFlat.MatchString), has(drawLetter.MatchString)
	out := manners{barred: has(isBarSign)}
	switch {
	case bends && !draws:
		out.flat = "'"
	case draws && !bends:
		out.flat = "B"
	}
	out.letters = !has(chordLetter.MatchString) && !has(isNote)
	out.brackets = has(inRound.MatchString) && !has(saysDraw)
	return out
}

// saysDraw reports whether a word is a draw note by a sign other than brackets.
func saysDraw(word string) bool {
	word = plainSigns.Replace(strings.Trim(word, "[]()"))
	return drawLetter.MatchString(word) || strings.ContainsAny(word, "↓") ||
		strings.HasPrefix(word, "-") && isNote(strings.Fields(word + " ")[0]) ||
		behindForm.MatchString(word) && strings.Contains(word, "-") || lettered.MatchString(word) && word[0] == 'D'
}

// isTab reports whether a line is tab.
func (m manners) isTab(words []textAt) bool {
	notes, sure, others := 0, 0, 0
	for _, w := range words {
		switch m.kind(w.text) {
		case sureNote:
			sure++
			notes++
		case bareNote:
			notes++
		case otherWord:
			others++
		}
	}
	return notes > others || sure > 0 && notes == others
}

// kind of a word.
func (m manners) kind(word string) wordKind {
	if isBarSign(word) {
		return barSign
	}
	token, _ := m.plainToken(word)
	switch _, mark := parseMark(word); {
	case bareHole(token):
		if len(token) > len("10") {
			return oddNote
		}
		return bareNote
	case mark:
		return markSign
	case isNote(token):
		return sureNote
	case !strings.ContainsAny(token, "0123456789"):
		return otherWord
	case areBracketed(token), areSlashed(token):
		return sureNote
	case strings.Trim(plainSigns.Replace(token), "0123456789+-'bBdDoO()[]/") == "":
		return oddNote
	}
	return otherWord
}

// areBracketed reports whether all in brackets has the form of notes.
func areBracketed(token string) bool {
	closing := closings[token[0]]
	inner, closed := strings.CutSuffix(token[1:], closing)
	if closing == "" || closing == "}" || !closed {
		return false
	}
	words := strings.FieldsFunc(
		inner,
		func(r rune) bool { return r == ' ' || r == '\t' || r == ',' || r == '/' },
	)
	return len(words) > 0 && !slices.ContainsFunc(words, func(w string) bool { return !isNote(w) })
}

// areSlashed reports whether all between slashes has the form of notes.
func areSlashed(token string) bool {
	notes := strings.Split(token, "/")
	return len(notes) > 1 && !slices.ContainsFunc(notes, func(w string) bool { return !isNote(w) })
}

// plainToken is what a word of plain tab is in the spelling that [ParseToken] reads, as far
// as it is tab at all, and the signs behind it that are no part of it.
func (m manners) plainToken(word string) (token, signs string) {
	token = plainSigns.Replace(word)
	if bare := strings.TrimRight(token, decoration); bare != token && strings.ContainsAny(bare, "0123456789") {
		token, signs = bare, token[len(bare):]
	}
	for _, arrow := range []struct{ sign, as string }{{"↑", "+"}, {"↓", "-"}} {
		rest := strings.TrimPrefix(strings.TrimSuffix(token, arrow.sign), arrow.sign)
		if rest != token && isNote(rest) && !strings.ContainsAny(rest, "+-BDd") {
			return arrow.as + rest, signs
		}
	}
	if strings.Trim(token, "0123456789+-'bBdD") != "" {
		return m.bracketed(token), signs
	}
	if b := behindForm.FindStringSubmatch(token); b != nil && (b[2] == "" || b[4] == "") {
		return b[3] + b[1] + b[2] + b[4], signs
	}
	if l := lettered.FindStringSubmatch(token); l != nil && m.letters {
		return map[string]string{"B": "+", "D": "-"}[l[1]] + l[2] + l[3], signs
	}
	if flatForm.MatchString(token) && m.flat != "" {
		token = strings.TrimSuffix(token, "b") + m.flat
	}
	return token, signs
}

// bracketed is a word, or the draw note that a hole in round brackets stands for.
func (m manners) bracketed(token string) string {
	if m.brackets && inRound.MatchString(token) {
		return "-" + strings.Trim(token, "()")
	}
	return token
}

// PlainHarp is the key of the harp that a line of the text names, such as harp: A or
// Harp in Bb, empty if none does.
func PlainHarp(text string) string {
	for line := range strings.Lines(text) {
		line = strings.TrimSpace(line)
		if m := harpForm.FindStringSubmatch(line); m != nil {
			if _, err := harp.Parse(m[1], harp.Layouts()[0]); err == nil {
				return m[1]
			}
		}
	}
	return ""
}

var harpForm = regexp.MustCompile(`(?i)^harp(?:\s*:\s*|\s+in\s+)(.{1,20})$`)

// HasTimes reports whether a text is a tab document, or tab whose lines have times, rather than
// plain tab.
func HasTimes(text string) bool {
	for _, line := range textLines([]byte(text)) {
		words := strings.Fields(line)
		if len(words) > 1 &&
			(isTime(words[0]) && words[0][0] >= '0' && words[0][0] <= '9' && tellsMore(words[1:]) ||
				strings.Join(words[:2], " ") == versionLine) {
			return true
		}
	}
	return false
}

// tellsMore reports whether what stands behind a time may be a length or a note.
func tellsMore(words []string) bool {
	_, err := parseNumber(words[0])
	return err == nil || isToken(words[0])
}
