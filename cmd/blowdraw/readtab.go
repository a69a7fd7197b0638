package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"

	"blowdraw/decode"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// stdinName stands for standard input in the place of a tab's file name.
const stdinName = "-"

// unusableError is a file that is no tab: its header names no harp.
type unusableError struct {
	name string
	err  tab.Error // the first mistake
	more int
}

func (e *unusableError) Error() string {
	s := fmt.Sprintf("%s: %v", e.name, e.err)
	if e.more > 0 {
		s += fmt.Sprintf(" (and %s)", count(e.more, "more mistake"))
	}
	return s
}

// readTab reads a tab document from a file, or from standard input if the path
// is -. Mistakes in it come back beside what was understood; without a harp
// nothing can be, and that is an error.
func readTab(c *cobra.Command, path string) (d tab.Document, name string, mistakes tab.Errors, err error) {
	name = path
	var in io.Reader = c.InOrStdin()
	if path == stdinName {
		name = "standard input"
	} else {
		f, err := os.Open(path)
		if err != nil {
			return d, name, nil, cannotRead(path, err)
		}
		defer f.Close()
		in = f
	}
	b := bufio.NewReader(in)
	if isSound(b) {
		return d, name, nil, &decode.Error{Path: name, Problem: "it is a recording, not a tab",
			Hint: "Write its tab first: blowdraw transcribe"}
	}
	d, err = tab.Parse(b)
	if err == nil {
		return d, name, nil, nil
	}
	if !errors.As(err, &mistakes) {
		return d, name, nil, fmt.Errorf("%s: %w", name, err)
	}
	if d.Harp.Layout.Holes() == 0 {
		return d, name, nil, unusable(name, mistakes)
	}
	return d, name, mistakes, nil
}

// cannotRead says why a file can't be opened.
func cannotRead(path string, err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return &decode.Error{Path: path, Problem: "there is no such file", Err: err}
	}
	if e, ok := errors.AsType[*fs.PathError](err); ok {
		err = e.Err
	}
	return fmt.Errorf("%s can't be read: %w", path, err)
}

// isSound reports whether a file begins as recordings do.
func isSound(b *bufio.Reader) bool {
	for _, mark := range []string{"RIFF", "RF64", "fLaC", "OggS", "ID3", "\xff\xfb"} {
		if head, _ := b.Peek(len(mark)); string(head) == mark {
			return true
		}
	}
	return false
}

// noDocument begins what is said of a file that is no tab document.
const noDocument = "not a tab document"

// unusable says why nothing can be made of a file: it is no tab, or its harp is
// not known.
func unusable(name string, mistakes tab.Errors) error {
	e := &unusableError{shorten(name, 60), clipped(mistakes[0]), len(mistakes) - 1}
	if strings.HasPrefix(e.err.Text, noDocument) {
		e.more = 0
	}
	return e
}

// readWarned is readTab for commands that go on with what was understood, the
// rest being told on standard error.
func readWarned(c *cobra.Command, path string) (tab.Document, string, error) {
	d, name, mistakes, err := readTab(c, path)
	tellMistakes(c.ErrOrStderr(), name, mistakes)
	return d, name, err
}

// tellMistakes of a tab, the first of them if there are many.
func tellMistakes(stderr io.Writer, name string, mistakes tab.Errors) {
	mistakes, stale := gathered(mistakes)
	for i, m := range mistakes {
		if i == mostMistakes {
			fmt.Fprintf(stderr, "blowdraw: %s: and %s\n", name, count(len(mistakes)-i, "more mistake"))
			break
		}
		fmt.Fprintf(stderr, "blowdraw: %s: %v\n", name, clipped(m))
	}
	if stale != "" {
		fmt.Fprintf(stderr, "blowdraw: %s: %s\n", name, stale)
	}
}

// mostMistakes is how many mistakes of one tab are told, mostStale how many of its
// lines with stale degrees one by one, and mostLines how many of the others by number.
const (
	mostMistakes = 50
	mostStale    = 5
	mostLines    = 30
)

// gathered are the mistakes without the further ones of many lines with stale degrees,
// as there are where the song's key was changed; those are told in one line.
func gathered(mistakes tab.Errors) (shown tab.Errors, stale string) {
	n := 0
	var lines []string
	for _, m := range mistakes {
		if m.Stale {
			n++
		}
		if !m.Stale || n <= mostStale {
			shown = append(shown, m)
		} else {
			lines = append(lines, fmt.Sprint(m.Line))
		}
	}
	if len(lines) == 0 {
		return shown, ""
	}
	all := count(len(lines), "more line")
	if more := len(lines) - mostLines; more > 0 {
		lines = append(lines[:mostLines], fmt.Sprintf("and %d more", more))
	}
	return shown, fmt.Sprintf("%s with degrees that are not those of the notes (%s); blowdraw export --as "+
		"tab writes all degrees afresh", all, strings.Join(lines, ", "))
}

// clipped is a mistake whose text is short enough for a line.
func clipped(m tab.Error) tab.Error {
	m.Text, m.Source = shorten(m.Text, 160), shorten(strings.TrimRight(m.Source, " \t\r"), 100)
	return m
}

// shorten cuts text to so many characters, and makes control characters visible
// as question marks.
func shorten(s string, most int) string {
	r := []rune(strings.Map(func(r rune) rune {
		if r == '\t' {
			return ' '
		}
		if r < ' ' || r >= 0x7f && r < 0xa0 {
			return '?'
		}
		return r
	}, s))
	if len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return string(r)
}

// count is a number of things: "1 problem", "2 problems".
func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
