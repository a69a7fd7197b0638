package tab

import (
	"errors"
	"slices"
	"strings"
	"testing"
)

// Lines as hands write them, below the line 0:01 0.3 -4 of a C harp in G: what is read,
// event by event after that line, or what is said. The spellings are common practice,
// no source.
func TestSeveralNotes(t *testing.T) {
	const head = "blowdraw tab 1\nharp: C\nsong: G\n0:01 0.3 -4\n"
	const columns = "    time  length  tab  degree\n"
	for _, c := range []struct {
		in   string
		want string // events as tab with their marks, parted by semicolons
		say  string // a part of the mistake, of which there is one; empty for none
	}{
		// notes in turn
		{"4 5 6", "4; 5; 6", ""},
		{"                4 5 6", "4; 5; 6", ""},
		{"-4 -3 -2", "-4; -3; -2", ""},
		{"+4 -4", "4; -4", ""},
		{"4 -4", "4; -4", ""},
		{"–2 –3", "-2; -3", ""},
		{"−2 −3", "-2; -3", ""},
		{"15.557 0.3 -4", "-4", ""},
		{"15.557 -4", "-4", ""},
		{"-4, -3,-2", "-4; -3; -2", ""},
		{"4,5,6", "4; 5; 6", ""},
		{"-3b 3d 4B", "-3'; -3; 4", ""},
		{"2 draw 3 draw blow 4", "-2; -3; 4", ""},
		{"draw 2 +3 -4", "-2; 3; -4", ""},
		{"2 draw, 3 draw,blow 4", "-2; -3; 4", ""},
		{"draw 4 5 6", "", "is 5 drawn or blown?"},
		{"3 draw,blow 4, 5", "", "is 5 drawn or blown?"},
		{"4 5 6 draw", "", "is 4 drawn or blown?"},
		{"4 5 # draw", "4; 5", ""}, // no degree: blow 4 sounds the 4
		{"0:05 4 5 6", "", "6 behind 5 may be a note (4 is the length); want"},
		{"2 draw", "-2", ""},
		{"Draw 2", "-2", ""},
		{"3' draw", "-3'", ""},
		{"draw 3bb", "-3''", ""},
		{"-4 scoop -3' -2 vibrato slap", "-4 scoop; -3'; -2 slap vibrato", ""},
		{"[-4 -5] -4 {Bb4+30}", "[-4 -5]; -4; {Bb4+30}", ""},
		{"-4/-5 4 # both", "[-4 -5]; 4", ""},
		{"2d", "-2", ""},
		{"4 5 5 5 5", "4; 5; 5; 5; 5", ""},
		// notes and what may be degrees
		{"-4 5", "", "5 behind -4 may be a note; want -4 alone if that is its degree, -4 +5 for notes in turn"},
		{"1 4", "", "want 1 alone if that is its degree, [1 4] for notes together, 1 +4 for notes in turn"},
		{"-4 +5", "-4; 5", ""},
		{"4 4", "", "4 alone if that is its degree, 4 +4 for notes in turn"},
		{"4 +4", "4; 4", ""},
		{"-3' b3", "-3'", ""},
		{"-3 b3", "", "b3 is not the degree of -3, which is 3; delete it"},
		{"-3' b3 -2", "", "b3 -2 behind -3' are neither its degree, which is b3, nor notes"},
		{"0:02 0.3 -4 5", "", "5 behind -4 may be a note; want -4 alone if that is its degree"},
		{"0:12.5 0.162 1 4", "", "want 1 alone if that is its degree, [1 4] for notes together, one note a line"},
		{"0:12.5 0.162 4 5 6", "", "5 6 behind 4 may be a note; want [4 5 6] for notes together, one note a line"},
		{"0:12.5 -4 -3", "", "want [-4 -3] for notes together, one note a line"},
		{"0:12.5 0.3 +4 -4", "", "-4 behind +4 may be a note; want one note a line"},
		{columns + "0:12.5 0.162 1 4", "", "want 1 alone if that is its degree, [1 4]"},
		{columns + "0:12.5 0.162 1  4", "1", ""},
		{columns + "0:12.5 0.162 1\t4", "1", ""},
		{columns + "0:12.5 0.162 -3'  b3 scoop", "-3' scoop", ""},
		{columns + "0:12.5 0.162 [-1 -4]  5 5 octave", "[-1 -4]", ""},
		{columns + "0:12.5 0.162 [-1 -4]  octave", "[-1 -4]", ""},
		{columns + "-4  5", "", "5 behind -4 may be a note"},
		{columns + "0:12.5 0.162 -3'  5 scoop", "-3' scoop", "5 is not the degree of -3', which is b3"},
		{columns + "0:12.5 0.162 -4  5 5", "-4", "5 5 is not the degree of -4, which is 5"},
		{columns + "0:12.5 -3'  5", "", "5 behind -3' may be a note"},
		{columns + "0:12.5 0.162 -3'  -5", "", "-5 behind -3' may be a note; want"},
		// what can't be meant
		{"-123", "", "want [-1 -2 -3] for notes together, -1 -2 -3 for notes in turn"},
		{"-4 -9' -2", "", "-9'"},
		{"4b", "", "write 4B or 4 for blow"},
		{"8b", "", "want 8' for the bend, 8 for blow"},
		{"(4)", "", "want -4 for draw, 4 for blow"},
		{"-3 bend", "", "a bend is ' behind the hole"},
		{"-4 -3 ? 60%", "", "a doubt goes with one note"},
		{"-4 -3 wobble", "", "\"wobble\" is neither"},
		{"0:02 0.3 4, 5", "", "\"4,\" is not tab"},
		{"scoop -4", "", "want a mark behind its note"},
		{"Marks of mine", "", "want a mark behind its note"},
		{"draw", "", "\"draw\" is not tab"},
	} {
		d, err := Parse(strings.NewReader(head + c.in + "\n"))
		var mistakes Errors
		errors.As(err, &mistakes)
		var got []string
		for _, e := range d.Events[1:] {
			got = append(got, strings.TrimSpace(d.EventToken(e)+" "+e.MarkText()))
		}
		if s := strings.Join(got, "; "); s != c.want {
			t.Errorf("%q: read as %q, want %q", c.in, s, c.want)
		}
		line := 5 + strings.Count(c.in, "\n")
		switch {
		case c.say == "" && err == nil:
		case c.say == "" || len(mistakes) != 1 || mistakes[0].Line != line ||
			!strings.Contains(mistakes[0].Text, c.say):
			t.Errorf("%q: %v; want %q on line %d", c.in, err, c.say, line)
		}
		reprint(t, head+c.in+"\n")
	}
}

// Notes in turn follow the event above, each as long as that.
func TestRunTimes(t *testing.T) {
	d := mustParse(t, "blowdraw tab 1\nharp: C\nsong: G\n0:01 0.3 -4\n4 5 6 # up\n0:03 1 -2\n")
	starts := []float64{1, 1.3, 1.6, 1.9, 3}
	for i, e := range d.Events {
		if e.Start != starts[i] || i < 4 && Millis(e.End-e.Start) != 300 {
			t.Errorf("event %d: %g to %g", i, e.Start, e.End)
		}
	}
	if len(d.Events) != 5 || d.Events[1].Comment != "up" || d.Events[2].Comment != "" || d.Events[3].Line != 5 {
		t.Errorf("%+v", d.Events)
	}
}

// accounted reports words that are neither in the document nor in a mistake of their
// line: each word of a line with events, up to a doubt or comment, is its time, length
// or place, or stands for a mark, a degree, or the tab of an event of its own.
func accounted(t *testing.T, s string, d Document, mistakes Errors) {
	t.Helper()
	told := map[int]bool{}
	keyless := d.SongAssumed // or told; then any degree may stand
	for _, m := range mistakes {
		told[m.Line] = true
		keyless = keyless || strings.HasPrefix(strings.ToLower(strings.TrimSpace(m.Source)), "song")
	}
	byLine := map[int][]Event{}
	for _, e := range d.Events {
		byLine[e.Line] = append(byLine[e.Line], e)
	}
	for i, line := range strings.Split(strings.TrimPrefix(decoded([]byte(s)), "\ufeff"), "\n") {
		content := strings.TrimSuffix(line, "\r")
		if at := commentAt(content); at >= 0 {
			content = content[:at]
		}
		words := splitWords(content)
		if len(words) > 0 && !isTime(words[0].text) && !strings.Contains(words[0].text, "|") {
			words = splitCommas(words)
		}
		words = joinBreaths(words)
		switch {
		case told[i+1] || isHeader(line) || len(words) == 0:
		case len(byLine[i+1]) > 0:
			if w := unaccounted(d, byLine[i+1], words, content); w != "" &&
				!(keyless && readingAids[strings.ToLower(w)]) {
				t.Errorf("from %q: line %q: %q is neither read nor told; events %+v", s, line, w, byLine[i+1])
			}
		case beginsEvent(words[0].text):
			t.Errorf("from %q: line %q is neither read nor told", s, line)
		}
	}
}

// playedBehind reports whether words go on with what is played, so that a number before them
// is a length: alone, or before a mark or a doubt, it is tab.
func playedBehind(words []textAt) bool {
	if len(words) == 0 || strings.HasPrefix(words[0].text, "?") || isChecked(words[0].text) {
		return false
	}
	_, mark := parseMark(words[0].text)
	return !mark
}

// unaccounted is the first word of a line, in whose content the doubt begins behind a
// question mark, that stands for nothing in its events.
func unaccounted(d Document, events []Event, words []textAt, content string) string {
	doubt := ""
	for _, w := range words {
		if strings.HasPrefix(w.text, "?") {
			doubt = content[w.at+1:]
			break
		}
	}
	var tabs, degrees []string
	var marks []Mark
	for _, e := range events {
		tabs, marks = append(tabs, d.EventToken(e)), append(marks, e.Marks...)
		degrees = append(append(degrees, d.degrees(e)...), strings.Fields(d.interval(e))...)
	}
	if len(events) > 1 {
		degrees = nil
	}
	take := func(list *[]string, s string) bool {
		i := slices.Index(*list, s)
		if i >= 0 {
			*list = slices.Delete(*list, i, i+1)
		}
		return i >= 0
	}
	checked := slices.ContainsFunc(events, func(e Event) bool { return e.Checked })
	for i, w := range words {
		if strings.HasPrefix(w.text, "?") {
			if lost := undoubted(d, events[0], doubt); lost != "" {
				return lost
			}
			break
		}
		if isChecked(w.text) && checked {
			continue
		}
		if m, ok := parseMark(w.text); ok {
			if k := slices.Index(marks, m); k >= 0 {
				marks = slices.Delete(marks, k, k+1)
				continue
			} // it may be tab: -3db is draw 3, bent
		}
		_, number := parseNumber(w.text)
		clock := strings.ContainsAny(w.text, ":|") && i < 3 || i == 0 && isTime(w.text)
		if i == 1 && number == nil && isTime(words[0].text) && !strings.ContainsAny(w.text[:1], "+-") &&
			playedBehind(words[i+1:]) {
			continue // the length, which added lines below may have shortened
		}
		written := w.text
		if a, err := ParseToken(d.Harp, w.text); err == nil {
			written = Token(a)
		} else if p, err := parsePitches(w.text, d.TuningCents); err == nil {
			written = d.PitchToken(p)
		}
		if !take(&tabs, written) && !take(&degrees, strings.ToLower(w.text)) && !clock {
			return w.text
		}
	}
	if len(tabs) > 0 || len(marks) > 0 {
		return "(nothing)"
	}
	return ""
}

// undoubted is the first word of a doubt that stands for nothing in its event.
func undoubted(d Document, e Event, doubt string) string {
	var known []string
	for _, x := range e.Doubts {
		known = append(known, strings.Fields(x.Word)...)
		for short, word := range shortDoubts {
			if word == x.Word {
				known = append(known, short)
			}
		}
	}
	var shares, notes []int
	shares = append(shares, percent(e.Confidence))
	for _, a := range e.Alternatives {
		shares, notes = append(shares, percent(a.Confidence)), append(notes, a.For)
	}
	for _, part := range splitAt(doubt, 0) {
		for _, w := range splitWords(part.text) {
			low := strings.ToLower(w.text)
			share, err := parsePercent(w.text)
			token, noTab := ParseToken(d.Harp, w.text)
			pitches, noPitch := parsePitches("{"+w.text+"}", 0)
			switch {
			case slices.Contains([]string{"or", "nearest", "for"}, low), slices.Contains(known, low):
			case low == "rest" && slices.ContainsFunc(e.Alternatives, func(a Alternative) bool { return a.Actions == nil }):
			case err == nil && slices.Contains(shares, percent(share)):
			case noTab == nil && slices.ContainsFunc(e.Alternatives, func(a Alternative) bool {
				return slices.Equal(a.Actions, token)
			}):
			case noPitch == nil && len(pitches) == 1 && slices.Contains(notes, int(pitches[0])):
			default:
				return w.text
			}
		}
	}
	return ""
}

// A minor key is that of its tonic, which positions and degrees count from.
func TestMinorSong(t *testing.T) {
	d := mustParse(t, "blowdraw tab 1\nharp: C\nsong: G minor, second position\n    time  length  tab  degree\n"+
		"0:01 1 -3'  b3\n")
	if !d.Minor || d.SongKey != 7 || d.SongName() != "Gm" || d.HarpPosition() != 2 {
		t.Errorf("%+v", d)
	}
	written := text(t, d)
	if !strings.Contains(written, "\nsong:      Gm, second position\n") ||
		text(t, mustParse(t, written)) != written {
		t.Errorf("written as\n%s", written)
	}
	_, err := Parse(strings.NewReader("blowdraw tab 1\nharp: C\nsong: Dm, second position\n"))
	if err == nil || !strings.Contains(err.Error(), "on this harp Dm is third position, not second") {
		t.Error(err)
	}
}
