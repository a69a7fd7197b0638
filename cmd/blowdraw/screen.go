package main

import (
	"cmp"
	"io"
	"os"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/term"
)

// screen is where a command prints. It remembers the first failure to write. Where it is
// clean nothing that steers a terminal comes through; what else is printed, a tab to a file
// or a pipe, goes through as it is.
type screen struct {
	w     io.Writer
	clean bool
	rest  []byte // of a character that is not whole yet
	err   error
}

func (s *screen) Write(b []byte) (int, error) {
	if !s.clean {
		n, err := s.w.Write(b)
		s.err = cmp.Or(s.err, err)
		return n, err
	}
	text := append(s.rest, b...)
	whole := wholeRunes(text)
	s.rest = append([]byte(nil), text[whole:]...)
	_, err := io.WriteString(s.w, printable(string(text[:whole])))
	s.err = cmp.Or(s.err, err)
	return len(b), err
}

// wholeRunes is how many bytes of a text are before a character that is cut off at its end.
func wholeRunes(b []byte) int {
	for n := 1; n < utf8.UTFMax && n <= len(b); n++ {
		if at := len(b) - n; utf8.RuneStart(b[at]) {
			if !utf8.FullRune(b[at:]) {
				return at
			}
			break
		}
	}
	return len(b)
}

// isTerminal reports whether a terminal shows what is written to w.
func isTerminal(w io.Writer) bool {
	f, ok := unwrapped(w).(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// unwrapped is what a screen writes to.
func unwrapped(w io.Writer) io.Writer {
	if s, ok := w.(*screen); ok {
		return s.w
	}
	return w
}

// printable is a text without characters that would steer a terminal, or turn the order of
// what stands behind them, as a file's name may have; lines and tabulators stay.
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' && r != '\t' || turns(r) {
			return '?'
		}
		return r
	}, s)
}

// turns reports whether a character embeds, overrides or isolates the direction of text
// (Unicode Standard Annex 9, section 2).
func turns(r rune) bool { return r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 }
