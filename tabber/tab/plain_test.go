package tab

import (
	"fmt"
	"runtime"
	"slices"
	"strings"
	"testing"
	"unicode"

	"blowdraw/tabber/harp"
)

// readPlain reads plain tab for a C harp.
func readPlain(t testing.TB, text string) Plain {
	t.Helper()
	h, err := harp.Parse("C", harp.Layouts()[0])
	if err != nil {
		t.Fatal(err)
	}
	p, err := ReadPlain(strings.NewReader(text), h)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// shown is what was read, in order: tab with its comment in angle brackets, bar lines as |,
// words in quotes; line by line what was told.
func shown(p Plain) (read, told string) {
	var out []string
	bars, remarks := p.Bars, p.Remarks
	for i := range len(p.Events) + 1 {
		for len(remarks) > 0 && remarks[0].Before == i {
			out, remarks = append(out, fmt.Sprintf("%q", remarks[0].Text)), remarks[1:]
		}
		for len(bars) > 0 && bars[0] == i {
			out, bars = append(out, "|"), bars[1:]
		}
		if i == len(p.Events) {
			break
		}
		e := p.Events[i]
		s := Token(e.Actions)
		for _, m := range e.Marks {
			s += " " + m.Name
		}
		if e.Comment != "" {
			s += "<" + e.Comment + ">"
		}
		out = append(out, s)
	}
	var says []string
	for _, e := range p.Told {
		says = append(says, fmt.Sprintf("%d:%d %s", e.Line, e.Column, e.Text))
	}
	return strings.Join(out, " "), strings.Join(says, "; ")
}

// Spellings of the trade (common practice, no source).
func TestReadPlain(t *testing.T) {
	for _, c := range []struct{ in, want, say string }{
		{"-2 -3b 4 -4 | 5 -5", "| -2 -3' 4 -4 | 5 -5", ""},
		{"-2 -3b 4 -4\n woke up this morning\n5 -5", `-2 -3' 4 -4 "woke up this morning" 5 -5`, ""},
		{"|-2|4 5|| -4||\n| 6 |\n6 -5", "| -2 | 4 5 | -4 | 6 | 6 -5", ""},
		{"4 | | 5", "| 4 | | 5", ""},
		{"|: -2 4 :|", "| -2 4", "1:1 |: is read as a bar line"},
		{"4-, 5+,-3b", "-4 5 -3'", ""},
		{"4- 5+ 3'- 3-''", "-4 5 -3' -3''", ""},
		{"↑4 ↓4 4↓ -2", "4 -4 -4 -2", ""},
		{"4 (4) (3'') 5", "4 -4 -3'' 5", ""},
		{"4 (4) -5", `4<not understood: (4)> -5`, "1:3 (4) is draw in some tabs"},
		{"D4 B5 D3''", "-4 5 -3''", ""},
		{"C7 D7\nD4 B5 D4", `"C7 D7" "D4 B5 D4"`, ""},
		{"-3b 8b", "-3' 8'", ""},
		{"3d 8b", "-3 8", ""},
		{"8b 8", `"not understood: 8b" 8`, "1:1 8b may be a bend or the letter of blow"},
		{"2 draw, 4 blow 3 draw", "-2 4 -3", ""},
		{"-4, -3 , 4,5", "-4 -3<,> 4 5", ""},
		{"(-4 -5) [1 4] 4/5 -4/-5", "[-4 -5] [1 4] [4 5] [-4 -5]", ""},
		{"-123 -45 4", `"not understood: -123 not understood: -45" 4`, "1:1 -123: this harp has holes"},
		{"–2 −3″ -4’", "-2 -3'' -4'", ""},
		{"-4 scoop 5 vibrato # breathe", "-4 scoop 5 vibrato<breathe>", ""},
		{"-4 scoop 5 hold it", "-4 scoop 5<hold it>", ""},
		{"4~ -3* 5... 6", "4<4~> -3<-3*> 5<5...> 6", "1:1 4~ is read as 4; 4~ is kept"},
		{"Verse: 1 2 3 4", `"Verse:" 1 2 3 4`, ""},
		{"Verse 2\n4 5", `"Verse 2" 4 5`, ""},
		{"take -4 slow and easy", `"take -4 slow and easy"`, "1:6 kept as words, though -4 may be tab"},
		{"4 5 x2", "4 5<x2>", "1:5 x2 is no note and is kept"},
		{"4 - 5", "4<-> 5", "1:3 - is no note and is kept"},
		{"# mine\n4\n# end", `"mine" 4 "end"`, ""},
		{"", "", ""},
		{"-9'", `"not understood: -9'"`, "1:1 -9': draw 9 of this harp does not bend"},
	} {
		read, told := shown(readPlain(t, c.in))
		if read != c.want || (c.say == "") != (told == "") || !strings.Contains(told, c.say) {
			t.Errorf("%q: read as\n%s\nwant\n%s\ntold %q, want %q", c.in, read, c.want, told, c.say)
		}
		kept(t, c.in, readPlain(t, c.in))
	}
}

// Worked out by hand: at 120 beats a minute a bar of four beats lasts 2 s.
func TestPlainDocument(t *testing.T) {
	p := readPlain(t, "Slow one\n-2 -3' 4 -4 | 5 -5\nwoke up\n6 | | -6\nno\n")
	d := p.Document(7, false, 0, "")
	got := text(t, d)
	for _, line := range []string{
		"# Slow one\n", "bar 1  0:00.000", "0:00.500   0.500  1|2  -3'  b3\n0:01.000   0.500  1|3  4    4\n",
		"bar 2  0:02.000\n0:02.000   1.000  2|1  5    6\n0:03.000   1.000  2|3  -5   b7\n# woke up\n",
		"\nbar 3  0:04.000\n\nPhrase 2  0:04.000 to 0:10.000",
		"0:04.000   2.000  3|1  6    1\nbar 4  0:06.000\nbar 5  0:08.000\n",
		"0:08.000   2.000  5|1  -6   2\n\n# no\n",
	} {
		if !strings.Contains(got, line) {
			t.Errorf("no\n%s\nin\n%s", line, got)
		}
	}
	if again := text(t, mustParse(t, got)); again != got {
		t.Errorf("written again as\n%s\nwant\n%s", again, got)
	}
	for i := range p.Events {
		p.Events[i].Start, p.Events[i].End = 1+float64(i), 1.5+float64(i)
	}
	d.Events, d.Remarks = p.Events, nil
	if d := p.Timed(d); fmt.Sprint(d.Bars) != "[{1 1  0} {2 5  0} {3 7  0} {4 7.5  0} {5 8  0}]" {
		t.Errorf("bars with times: %v", d.Bars)
	}
}

// kept reports words of plain tab that are neither in p, which was read of it, nor told. Words that
// stand in no comment of their line and in no message about it must be bar lines, marks,
// breaths or notes: their holes, in order, are those of the line's events.
func kept(t *testing.T, text string, p Plain) {
	t.Helper()
	said := map[int]string{}
	for _, e := range p.Told {
		said[e.Line] += " " + e.Text
	}
	var remarks string
	for _, r := range p.Remarks {
		remarks += r.Text + "\n"
	}
	holes := map[int][]string{}
	for _, e := range p.Events {
		said[e.Line] += " " + e.Comment
		for _, a := range e.Actions {
			holes[e.Line] = append(holes[e.Line], fmt.Sprint(a.Hole))
		}
	}
	for i, line := range textLines([]byte(text)) {
		whole := strings.TrimSpace(clean(line))
		found := said[i+1] + remarks
		if len(holes[i+1]) == 0 && strings.Contains(remarks, strings.TrimLeft(whole, "# ")) {
			continue
		}
		if at := commentAt(line); at >= 0 {
			if c := commentIn(line, at); !strings.Contains(found, strings.TrimSpace(c)) {
				t.Errorf("%q: line %q: the comment is lost", text, line)
			}
			line = line[:at]
		}
		var left []string
		for _, w := range strings.FieldsFunc(line, func(r rune) bool {
			return strings.ContainsRune("|:,", r) || unicode.IsSpace(r) || unicode.IsControl(r)
		}) {
			w = strings.TrimSpace(clean(w))
			if !strings.Contains(found, w) || isNote(strings.Trim(w, "()[],")) {
				left = append(left, w)
			}
		}
		var digits []string
		for _, w := range left {
			if _, mark := parseMark(w); mark && !bareHole(w) {
				continue // +30c has no hole
			}
			for _, n := range strings.FieldsFunc(w, func(r rune) bool { return r < '0' || r > '9' }) {
				digits = append(digits, strings.TrimLeft(n, "0"))
			}
		}
		slices.Sort(digits)
		slices.Sort(holes[i+1])
		if !slices.Equal(holes[i+1], digits) && !strings.ContainsAny(found, "0123456789") {
			t.Errorf("%q: line %q: holes %v were read, %v stand there", text, line, holes[i+1], digits)
		}
		for _, w := range left {
			rest := strings.Trim(plainSigns.Replace(w), "0123456789+-'bBdDoO()[]/,↑↓#")
			if _, mark := parseMark(w); rest != "" && !mark && breathWord(strings.Trim(w, ",")) == "" {
				t.Errorf("%q: line %q: %q is lost; %+v", text, line, w, p)
			}
		}
	}
}

func FuzzReadPlain(f *testing.F) {
	f.Add("Slow one\n-2 -3b 4 -4 | 5 -5\n woke up this morning\n(x2) 6 -5 | [-4 -5] 4~  # hold\n")
	f.Add("4- 5+ ↑4 (4) D4 B5 8b -123 2 draw, 4 blow |: 4/5 :| - scoop Verse 2: 1 2 3\r\n\ttake -4 slow")
	f.Fuzz(func(t *testing.T, s string) {
		s = s[:min(len(s), mostPlain)]
		p := readPlain(t, s)
		kept(t, s, p)
		d := p.Document(7, false, 90, "12/8")
		first := text(t, d)
		back := mustParse(t, first)
		if second := text(t, back); second != first {
			t.Errorf("%q: printed, parsed, printed:\n%s\nwant\n%s", s, second, first)
		}
		if len(back.Events) != len(p.Events) {
			t.Errorf("%q: %d events, %d come back", s, len(p.Events), len(back.Events))
		}
	})
}

// A line of many thousands of words that are kept, or told, takes as much for each as a short
// one: memory grows with its length, not with the square.
func TestLongLines(t *testing.T) {
	h, err := harp.Parse("C", harp.Layouts()[0])
	if err != nil {
		t.Fatal(err)
	}
	for _, word := range []string{"4b ", "-9' ", "-4 x "} {
		read := func(n int) float64 {
			text := strings.Repeat(word, n)
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			p, err := ReadPlain(strings.NewReader(text), h)
			runtime.ReadMemStats(&after)
			if err != nil {
				t.Fatal(err)
			}
			if m := p.Told; len(m) > 0 && m[len(m)-1].Column <= len(text)-2*len(word) {
				t.Errorf("%q %d times: the last mistake stands at %d", word, n, m[len(m)-1].Column)
			}
			return float64(after.TotalAlloc-before.TotalAlloc) / float64(n)
		}
		if short, long := read(500), read(8000); long > 3*short {
			t.Errorf("%q: %.0f bytes a word in a long line, %.0f in a short one", word, long, short)
		}
	}
}
