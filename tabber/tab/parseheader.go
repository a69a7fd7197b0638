package tab

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"blowdraw/tabber/harp"
)

// headerNames are those that a document uses itself; others are kept.
var headerNames = []string{"recording", "section", "harp", "layout", "blow", "draw", "song", "tuning",
	"tempo", "meter", "form", "channel", "ear", "note"}

// isHeader reports whether a line begins with a name and a colon.
func isHeader(text string) bool {
	name, _, found := strings.Cut(strings.TrimLeft(text, " \t"), ":")
	name = strings.TrimRight(name, " \t")
	for i, r := range name {
		if !unicode.IsLetter(r) && (i == 0 || r != '-' && r != '_') {
			return false
		}
	}
	return found && name != ""
}

func (p *parser) parseHeader(text string) {
	name, value, _ := strings.Cut(text, ":")
	at := len(name) + 1 + len(value) - len(strings.TrimLeft(value, " \t"))
	nameAt := len(name) - len(strings.TrimLeft(name, " \t"))
	as := strings.TrimSpace(name)
	name = strings.ToLower(as)
	value = valueText(value)
	known := slices.Contains(headerNames, name)
	switch {
	case !p.inHeader:
		p.fail(text, nameAt, "header line %q belongs above the first event", name)
		return
	case !known:
		p.doc.Other = append(p.doc.Other, HeaderLine{as, value})
		return
	case p.seen[name] && name != "note":
		p.fail(text, nameAt, "a second %q line", name)
		return
	case value == "":
		return
	}
	p.seen[name] = true
	here := textAt{value, p.line, at}
	var err error
	switch name {
	case "recording":
		p.doc.Recording = value
	case "channel":
		p.doc.Channel = value
	case "form":
		p.doc.Form = value
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
	case "meter":
		if p.doc.Meter = value; Meters[value] == 0 {
			p.doc.Meter, err = "", fmt.Errorf("%q is no meter; want 4/4, 12/8 or 3/4", value)
		}
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
	if err != nil || v < LeastBPM || v > MostBPM {
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

// parseClock reads minutes and seconds, with hours before them or not, as seconds, to
// the millisecond.
func parseClock(s string) (float64, error) {
	if v, err := parseNumber(s); err == nil && secondsForm.MatchString(s) && v <= mostSeconds {
		return float64(Millis(v)) / 1000, nil
	}
	m, sec, found := strings.Cut(s, ":")
	hours := uint64(0)
	var err error
	if rest, last, three := strings.Cut(sec, ":"); three {
		hours, err = strconv.ParseUint(m, 10, 24)
		if m, sec = rest, last; len(m) > 2 || m >= "60" && len(m) == 2 {
			found = false
		}
	}
	minutes, err1 := strconv.ParseUint(m, 10, 24)
	v, err2 := parseNumber(sec)
	if !found || err != nil || err1 != nil || err2 != nil || strings.ContainsAny(sec, "+-") || v >= 60 {
		return 0, fmt.Errorf("%q is not a time; want minutes and seconds, such as 0:02.413", s)
	}
	return float64(60000*int(60*hours+minutes)+Millis(v)) / 1000, nil
}

// mostSeconds is the latest time that seconds alone may say.
const mostSeconds = 1e6

// endHeader makes the harp of the header lines, once, before the first line
// that needs it.
func (p *parser) endHeader() {
	if !p.inHeader {
		return
	}
	p.inHeader = false
	if !p.version {
		p.failAt(textAt{line: 1}, fmt.Errorf("not a tab document: want the line %q first",
			fmt.Sprintf("%s %d", versionLine, Version)))
		return
	}
	h, ok := p.readHarp()
	if !ok {
		return
	}
	p.doc.Harp, p.harpOK = h, true
	p.doc.SongKey, p.doc.SongAssumed = harp.SongKey(h.Key(), 2), p.song.text == ""
	if p.song.text != "" {
		if err := p.parseSong(p.song.text); err != nil {
			p.failAt(p.song, err)
			p.keep(p.song.line, true)
		}
	}
}

// readHarp is the harp of the header, or the one given.
func (p *parser) readHarp() (harp.Harp, bool) {
	layout, ok := p.readLayout()
	switch {
	case p.harpKey.text == "" && p.given != nil:
		return *p.given, true
	case p.harpKey.text == "" && p.missed:
		p.failAt(textAt{line: 1}, fmt.Errorf("not a tab document: it has neither the line %q nor one such as "+
			"harp: C", fmt.Sprintf("%s %d", versionLine, Version)))
		return harp.Harp{}, false
	case p.harpKey.text == "":
		p.failAt(textAt{line: p.line}, errors.New(`the header has no "harp" line`))
		return harp.Harp{}, false
	case !ok:
		return harp.Harp{}, false
	}
	h, err := harp.Parse(p.harpKey.text, layout)
	if err != nil {
		p.failAt(p.harpKey, err)
	}
	return h, err == nil
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
		p.failAt(textAt{line: max(p.blow.line, p.draw.line)},
			fmt.Errorf("a layout of your own needs both a blow and a draw line"))
		return harp.Layout{}, false
	}
	if name == "" {
		name = "custom"
	}
	l, err := harp.ReadLayout(strings.NewReader("name: " + name + "\nblow: " + p.blow.text + "\ndraw: " +
		p.draw.text + "\n"))
	if err != nil {
		p.failAt(textAt{line: p.blow.line, at: p.blow.at}, err)
	}
	return l, err == nil
}

// assumed stands behind a key that is neither given nor heard.
const assumed = "(assumed)"

// parseSong reads the song's key and, behind a comma, the position, which must
// agree with the harp.
func (p *parser) parseSong(s string) error {
	if rest, found := strings.CutSuffix(s, assumed); found {
		s, p.doc.SongAssumed = strings.TrimSpace(rest), true
	}
	key, position, found := strings.Cut(s, ",")
	pc, minor, err := harp.ParseSongKey(key)
	if err != nil {
		return err
	}
	p.doc.SongKey, p.doc.Minor, p.songOK = pc, minor, true
	if !found {
		return nil
	}
	word, _ := strings.CutSuffix(strings.TrimSpace(position), "position")
	n, ok := harp.ParsePosition(strings.TrimSpace(word))
	if !ok {
		p.songOK = false
		return fmt.Errorf("%q is no position; want first to twelfth, such as second position",
			strings.TrimSpace(position))
	}
	if want := p.doc.HarpPosition(); n != want {
		p.songOK = false
		return fmt.Errorf("on this harp %s is %s position, not %s",
			p.doc.SongName(), harp.PositionName(want), harp.PositionName(n))
	}
	return nil
}
