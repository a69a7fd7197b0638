package tab

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"blowdraw/tabber/harp"
)

// Doubt is one thing that is in doubt of an event.
type Doubt struct {
	Word        string  // one of [DoubtWords]
	Probability float64 // that this is what is wrong; 0 where none is told
}

// Words for what is in doubt.
const (
	WhichHole      = "which hole"
	HowFarBent     = "how far bent"
	BlowOrDraw     = "blow or draw"
	OneOrTwo       = "one reed or two"
	HowManyReeds   = "how many reeds"
	StartsEarlier  = "starts earlier"
	StartsLater    = "starts later"
	WhenItStarts   = "when it starts"
	EndsEarlier    = "ends earlier"
	EndsLater      = "ends later"
	WhenItEnds     = "when it ends"
	HeldOver       = "perhaps held over"
	PerhapsNothing = "perhaps nothing"
	NotTheHarp     = "perhaps not the harp"
	Unsure         = "unsure"
)

// DoubtWords lists the words for what is in doubt.
func DoubtWords() []string {
	return []string{
		WhichHole, HowFarBent, BlowOrDraw, OneOrTwo, HowManyReeds, StartsEarlier, StartsLater, WhenItStarts,
		EndsEarlier, EndsLater, WhenItEnds, HeldOver, PerhapsNothing, NotTheHarp, Unsure,
	}
}

// shortDoubts are short forms that hands write, with what they stand for.
var shortDoubts = map[string]string{
	"hole": WhichHole, "bend": HowFarBent, "breath": BlowOrDraw, "reeds": HowManyReeds,
	"start": WhenItStarts, "end": WhenItEnds, "harp": NotTheHarp,
}

// doubtWord is the word that some text stands for, empty for none.
func doubtWord(text string) string {
	text = strings.Join(strings.Fields(strings.ToLower(text)), " ")
	if slices.Contains(DoubtWords(), text) {
		return text
	}
	return shortDoubts[text]
}

// AsksReading reports whether a word of doubt asks for another reading, not for another
// time or player.
func AsksReading(word string) bool {
	return slices.Contains([]string{WhichHole, HowFarBent, BlowOrDraw, OneOrTwo, HowManyReeds}, word)
}

// DoubtWordsOf are the words for what is in doubt of an event, parted by commas.
func (e Event) DoubtWordsOf() string {
	words := make([]string, len(e.Doubts))
	for i, d := range e.Doubts {
		words[i] = d.Word
	}
	return strings.Join(words, ", ")
}

// Doubt is the mark behind a doubtful event, empty for others:
//
//	? 62%, how far bent, or -3'' 25%, 3 10%
func (d Document) Doubt(e Event) string {
	if !e.Doubtful() {
		return ""
	}
	lead, gap := "?", " "
	if share, told := e.share(); told {
		lead, gap = fmt.Sprintf("? %d%%", share), ", "
	}
	if reason := d.Reason(e); reason != "" {
		return lead + gap + reason
	}
	return lead
}

// Reason is what is in doubt of an event, and what else it may have been:
//
//	how far bent, or -3'' 25%, 3 10%
func (d Document) Reason(e Event) string {
	parts := []string{e.DoubtWordsOf()}
	if len(e.Doubts) == 0 {
		parts = nil
	}
	others := d.Others(e)
	for i, a := range others {
		option := d.optionText(a)
		switch {
		case i == 0 && len(e.Actions) == 0:
			option = "nearest " + option
		case i == 0:
			option = "or " + option
		}
		parts = append(parts, option)
	}
	return strings.Join(parts, ", ")
}

// share is the confidence of a doubtful event in percents, as it is written. It isn't
// told of a sound that the harp lacks if that was surely heard; nobody doubts what is
// 100% sure.
func (e Event) share() (share int, told bool) {
	share = percent(e.Confidence)
	if len(e.Actions) == 0 {
		return share, share < percent(SureFrom)
	}
	return min(share, 99), true
}

// Others are the other readings of an event. A sound that the harp lacks has what it has
// nearest to each note, if nothing else is told.
func (d Document) Others(e Event) []Alternative {
	if len(e.Actions) > 0 || len(e.Alternatives) > 0 {
		return e.Alternatives
	}
	return d.NearestOf(d.Sounding(e))
}

// NearestOf are for each of some notes, MIDI numbers, the action nearest to it.
func (d Document) NearestOf(notes []int) []Alternative {
	var out []Alternative
	for _, m := range notes {
		a, ok := d.Harp.Nearest(m)
		if !ok {
			continue
		}
		alt := Alternative{Actions: []harp.Action{a}}
		if len(notes) > 1 {
			alt.For = m
		}
		out = append(out, alt)
	}
	return out
}

// optionText is another reading as it is written: -3” 25%, or -7 for B4.
func (d Document) optionText(a Alternative) string {
	s := cmp.Or(Token(a.Actions), "rest")
	if a.For > 0 {
		s += " for " + d.Harp.NoteName(a.For, d.SongKey)
	}
	if n := percent(a.Confidence); n > 0 {
		s += fmt.Sprintf(" %d%%", n)
	}
	return s
}

// bareDoubt is the confidence of an event with a question mark and no share.
const bareDoubt = 0.5

var (
	shareFirst = regexp.MustCompile(`^\s*([^\s,]*%)(?:[\s,]|$)`)
	readings   = regexp.MustCompile(`^(?i:or|nearest)(\s|$)`)
	orElse     = regexp.MustCompile(`\s(?i:or)\s`)
)

// parseDoubt reads the doubt of an event, whose question mark stands at a byte
// offset of the line's content.
func (p *parser) parseDoubt(e *Event, text, content string, at int) {
	at++
	e.Confidence = bareDoubt
	if len(e.Actions) == 0 {
		e.Confidence = 1
	}
	rest := content[at:]
	if m := shareFirst.FindStringSubmatchIndex(rest); m != nil {
		var err error
		if e.Confidence, err = parsePercent(rest[m[2]:m[3]]); err != nil {
			p.fail(text, at, "%v behind the question mark", err)
			return
		}
		rest, at = rest[m[3]:], at+m[3]
	}
	reading := false
	for _, w := range splitAt(rest, at) {
		switch word := doubtWord(w.text); {
		case word != "":
			if !slices.Contains(e.Doubts, Doubt{Word: word}) {
				e.Doubts = append(e.Doubts, Doubt{Word: word})
			}
		case readings.MatchString(w.text):
			reading = true
			n := strings.IndexFunc(w.text, unicode.IsSpace)
			if n < 0 {
				n = len(w.text)
			}
			w.text, w.at = w.text[n:], w.at+n
			p.parseOptions(e, text, w)
		case reading:
			p.parseOptions(e, text, w)
		default:
			p.fail(text, w.at, "%q is no doubt; want or before another reading, such as or -3 20%%, a share such "+
				"as 60%%, or what is in doubt, such as which hole, how far bent, starts earlier", w.text)
		}
		if p.bad {
			return
		}
	}
	if !e.Doubtful() {
		e.Doubts = []Doubt{{Word: Unsure}}
	}
}

// splitAt parts text, which begins at a byte offset of its line, at commas outside
// brackets; what is between them comes without spaces around it, if it is anything.
func splitAt(text string, at int) []textAt {
	var out []textAt
	from, depth := 0, 0
	take := func(to int) {
		part := text[from:to]
		inner := strings.TrimLeftFunc(part, unicode.IsSpace)
		w := textAt{text: strings.TrimRightFunc(inner, unicode.IsSpace), at: at + from + len(part) - len(inner)}
		if w.text != "" {
			out = append(out, w)
		}
		from = to + 1
	}
	for i := range len(text) {
		switch {
		case strings.IndexByte("[({", text[i]) >= 0:
			depth++
		case strings.IndexByte("])}", text[i]) >= 0:
			depth = max(0, depth-1)
		case text[i] == ',' && depth == 0:
			take(i)
		}
	}
	take(len(text))
	return out
}

// parseOptions reads other readings, between which the word or may stand.
func (p *parser) parseOptions(e *Event, text string, w textAt) {
	for _, s := range orElse.Split(w.text, -1) {
		alt, err := p.parseOption(strings.TrimSpace(s))
		if err != nil {
			p.fail(text, w.at+len(w.text)-len(strings.TrimLeftFunc(w.text, unicode.IsSpace)), "%v", err)
			return
		}
		e.Alternatives = append(e.Alternatives, alt)
	}
}

// parseOption reads another reading.
func (p *parser) parseOption(s string) (Alternative, error) {
	var a Alternative
	words := splitWords(s)
	if n := len(words); n > 0 && strings.HasSuffix(words[n-1].text, "%") {
		var err error
		if a.Confidence, err = parsePercent(words[n-1].text); err != nil {
			return a, err
		}
		words = words[:n-1]
	}
	if n := len(words); n == 3 && strings.EqualFold(words[1].text, "for") {
		pitches, err := parsePitches("{"+words[2].text+"}", 0)
		if err != nil {
			return a, err
		}
		if a.For = int(pitches[0]); len(pitches) != 1 || float64(a.For) != pitches[0] || a.For <= 0 {
			return a, fmt.Errorf("%q is not a note; want one such as Bb4", words[2].text)
		}
		words = words[:1]
	}
	if len(words) != 1 {
		return a, fmt.Errorf("%q is not a reading; want tab, and perhaps percents, such as -3'' 25%%", s)
	}
	if strings.EqualFold(words[0].text, "rest") || !p.harpOK {
		return a, nil
	}
	var err error
	a.Actions, err = ParseToken(p.doc.Harp, words[0].text)
	return a, err
}
