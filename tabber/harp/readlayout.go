package harp

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// ReadLayout reads a layout of the player's own: two rows, blow then draw, with
// one note for each hole, separated by spaces or commas.
//
//	# A C harp with draw 5 and 9 up a semitone
//	name: my-tuning
//	blow: C4 E G C E G C E G C
//	draw: D G B D F# A B D F# A
//
// The labels, and the name line, may be left out. A note without an octave is
// the next one at or above the note before it in its row; the first blow note
// is then in octave 4, the first draw note as near to it as can be. Instead of
// notes, both rows may give semitones above hole 1 blow. A # at the start of a
// line or after a space begins a comment. Neighbouring holes of a row, and the
// two notes of a hole, may lie at most an octave apart.
func ReadLayout(r io.Reader) (Layout, error) {
	l := Layout{Name: "custom"}
	var rows [][]int
	text, err := readText(r)
	if err != nil {
		return Layout{}, err
	}
	sc := bufio.NewScanner(strings.NewReader(text))
	for line := 1; sc.Scan(); line++ {
		text := strings.TrimSpace(cutComment(sc.Text()))
		if text == "" {
			continue
		}
		label, rest, found := strings.Cut(text, ":")
		label = strings.ToLower(strings.TrimSpace(label))
		if !found {
			label, rest = "", text
		}
		want := "blow"
		if len(rows) == 1 {
			want = "draw"
		}
		switch {
		case label == "name":
			l.Name = strings.TrimSpace(rest)
			continue
		case len(rows) == 2:
			return Layout{}, fmt.Errorf("layout line %d: a third row; want two, blow and draw", line)
		case label != "" && label != want:
			return Layout{}, fmt.Errorf("layout line %d: row %q; want the %s row here",
				line, short(label), want)
		}
		var blow []int
		if len(rows) == 1 {
			blow = rows[0]
		}
		row, err := parseRow(rest, blow)
		if err != nil {
			return Layout{}, fmt.Errorf("layout line %d, %s row: %w", line, want, err)
		}
		rows = append(rows, row)
	}
	if len(rows) < 2 {
		return Layout{}, fmt.Errorf("layout has %d rows of notes; want two, blow and draw", len(rows))
	}
	base := rows[0][0]
	for i := range rows[0] {
		l.Blow = append(l.Blow, rows[0][i]-base)
	}
	for i := range rows[1] {
		l.Draw = append(l.Draw, rows[1][i]-base)
	}
	return l, l.check()
}

// longestLayout is in bytes, far beyond what two rows of notes need.
const longestLayout = 16 << 10

// readText reads a short text; anything else is no layout.
func readText(r io.Reader) (string, error) {
	b, err := io.ReadAll(io.LimitReader(r, longestLayout+1))
	if err != nil {
		return "", fmt.Errorf("reading layout: %w", err)
	}
	control := func(c rune) bool { return unicode.IsControl(c) && !unicode.IsSpace(c) }
	if len(b) > longestLayout || !utf8.Valid(b) || bytes.ContainsFunc(b, control) {
		return "", errors.New("not a layout: want a short text of two rows of notes, blow and draw")
	}
	return strings.TrimPrefix(string(b), "\ufeff"), nil // some editors put a byte-order mark
}

// short cuts a word that is too long to be shown whole.
func short(s string) string {
	const most = 20
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "…"
	}
	return s
}

// cutComment drops a # at the start or after a space, and what follows; the #
// of F# stays.
func cutComment(s string) string {
	for i := range len(s) {
		if s[i] == '#' && (i == 0 || s[i-1] == ' ' || s[i-1] == '\t') {
			return s[:i]
		}
	}
	return s
}

// parseRow reads one row of notes as MIDI numbers, or of semitone numbers as
// they stand. blow is the blow row when this is the draw row.
func parseRow(s string, blow []int) ([]int, error) {
	words := strings.FieldsFunc(s, func(c rune) bool { return c == ' ' || c == '\t' || c == ',' })
	var row []int
	numbers := 0
	for i, w := range words {
		if n, err := strconv.Atoi(w); err == nil {
			row = append(row, n)
			numbers++
			continue
		}
		pc, octave, hasOctave, err := parseNote(w)
		if err != nil {
			return nil, fmt.Errorf("hole %d: %w", i+1, err)
		}
		switch {
		case hasOctave:
			row = append(row, 12*(octave+1)+pc)
		case i > 0:
			row = append(row, row[i-1]+PitchClass(pc-row[i-1]))
		case blow != nil: // as near to hole 1 blow as can be: 5 below to 6 above
			row = append(row, blow[0]-5+PitchClass(pc-blow[0]+5))
		default:
			row = append(row, 60+pc)
		}
	}
	switch {
	case len(row) == 0:
		return nil, fmt.Errorf("no notes")
	case numbers != 0 && numbers != len(row):
		return nil, fmt.Errorf("both note names and semitone numbers; want one or the other")
	case blow != nil && len(row) != len(blow):
		return nil, fmt.Errorf("%d notes for %d holes", len(row), len(blow))
	case blow != nil && (numbers != 0) != (blow[0] == 0):
		return nil, fmt.Errorf("one row in note names, the other in semitones; want both alike")
	case blow == nil && numbers != 0 && row[0] != 0:
		return nil, fmt.Errorf("hole 1: %d semitones above hole 1 blow; want 0", row[0])
	}
	return row, nil
}

// parseNote reads a note name such as F#, Bb or C4, without or with an octave
// (C4 is MIDI 60). A flat or sharp does not change the octave number: Cb4 is
// MIDI 59, so pc may be -1 or 12.
func parseNote(s string) (pc, octave int, hasOctave bool, err error) {
	name := strings.TrimRight(s, "0123456789")
	if name == "" {
		return 0, 0, false, fmt.Errorf("note %q is not known: want a name such as C, F#, Bb or C4", short(s))
	}
	if pc, err = ParseKey(name); err != nil {
		return 0, 0, false, fmt.Errorf("note %q is not known: want a name such as C, F#, Bb or C4", short(s))
	}
	if digits := s[len(name):]; digits != "" {
		if octave, err = strconv.Atoi(digits); err != nil || octave > 9 {
			return 0, 0, false, fmt.Errorf("note %q: octave %s is out of range", short(s), short(digits))
		}
		letter, _ := ParseKey(name[:1])
		pc = letter + nearest12(pc-letter)
		return pc, octave, true, nil
	}
	return pc, 0, false, nil
}

// nearest12 maps a difference of pitch classes to -6 to 5.
func nearest12(n int) int { return PitchClass(n+6) - 6 }

// check reports notes that cannot be meant.
func (l Layout) check() error {
	odd := func(r rune) bool { return !unicode.IsGraphic(r) || unicode.IsSpace(r) }
	if l.Name == "" || strings.ContainsFunc(l.Name, odd) || !utf8.ValidString(l.Name) {
		return fmt.Errorf("layout name %q: want one word", short(l.Name))
	}
	for i := range l.Blow {
		if d := l.Draw[i] - l.Blow[i]; d < -12 || d > 12 {
			return fmt.Errorf("layout hole %d: blow and draw are %d semitones apart; want at most 12",
				i+1, max(d, -d))
		}
		if i == 0 {
			continue
		}
		for _, row := range []struct {
			name  string
			notes []int
		}{{"blow", l.Blow}, {"draw", l.Draw}} {
			if d := row.notes[i] - row.notes[i-1]; d < -12 || d > 12 {
				return fmt.Errorf("layout %s row: holes %d and %d are %d semitones apart; want at most 12",
					row.name, i, i+1, max(d, -d))
			}
		}
	}
	return nil
}
