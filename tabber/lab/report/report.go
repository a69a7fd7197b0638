// Package report writes the tables of results, RESULTS.md, from measurements: each under a
// heading, with the command lines that make it. What cannot be measured now keeps the
// table that it had.
package report

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
)

// Section is one table.
type Section struct {
	Title    string   // one line
	About    string   // what the table is
	Commands []string // that make it, where the repository's root is the working folder
	// Missing tells why it cannot be made now; empty if it can be.
	Missing string
	Table   func(ctx context.Context, w io.Writer) error
}

// NotAsked is what a section is missing that nobody asked for: that is not told.
const NotAsked = "not asked for"

// head is the file's beginning.
const head = `# Results

Written by ` + "`blowdraw-lab report`" + ` from measurements, never by hand. Above each table stand the
command lines that make it (blowdraw-lab: ` + "`go run ./cmd/blowdraw-lab`" + `).
`

// Update makes the tables that can be made and puts them, in order, into what the file has
// now; the others stay as they are there. What is kept, and why, is told. The error joins
// those of the tables that failed; the text is good in any case.
func Update(ctx context.Context, old string, sections []Section, told io.Writer) (string, error) {
	had := split(old)
	var b strings.Builder
	b.WriteString(head)
	var failed error
	for _, s := range sections {
		text, err := s.text(ctx)
		if err != nil {
			if ctx.Err() != nil {
				return "", ctx.Err()
			}
			failed = errors.Join(failed, fmt.Errorf("%s: %w", s.Title, err))
		}
		if why := s.why(err); why != "" {
			text = had[s.Title]
			kept := "its old table is kept"
			if text == "" {
				kept = "it has no table yet"
			}
			if why != NotAsked {
				fmt.Fprintf(told, "%s: %s; %s\n", s.Title, why, kept)
			}
			if text == "" {
				continue
			}
		}
		fmt.Fprintf(&b, "\n## %s\n%s", s.Title, text)
	}
	return b.String(), failed
}

// why a section has no new table; empty if it has one.
func (s Section) why(err error) string {
	if err != nil {
		return "it failed"
	}
	return s.Missing
}

// text of a section below its heading; none if it is missing.
func (s Section) text(ctx context.Context) (string, error) {
	if s.Missing != "" {
		return "", nil
	}
	var table strings.Builder
	if err := s.Table(ctx, &table); err != nil {
		return "", err
	}
	var b strings.Builder
	fmt.Fprintf(&b, "\n%s\n\n", s.About)
	for _, c := range s.Commands {
		fmt.Fprintf(&b, "    $ %s\n", strings.Join(broken(c), " \\\n          "))
	}
	b.WriteString("\n")
	for line := range strings.Lines(strings.Trim(table.String(), "\n") + "\n") {
		if line = strings.TrimRight(line, " \t\n"); line != "" {
			line = "    " + line
		}
		b.WriteString(line + "\n")
	}
	return b.String(), nil
}

// broken are the lines of a command line, cut between words where it is too long for one; a
// flag stays with its value.
func broken(command string) (lines []string) {
	const width = 98
	line := ""
	for _, word := range strings.Fields(command) {
		if line != "" && len(line)+1+len(word) > width {
			rest := ""
			if cut := strings.LastIndexByte(line, ' '); strings.HasPrefix(line[cut+1:], "--") && cut > 0 {
				line, rest = line[:cut], line[cut+1:]
			}
			lines, line = append(lines, line), rest
		}
		line = strings.TrimPrefix(line+" "+word, " ")
	}
	return append(lines, line)
}

// split gives what stands below each heading of a file.
func split(text string) map[string]string {
	out := map[string]string{}
	title := ""
	for line := range strings.Lines(text) {
		if name, ok := strings.CutPrefix(line, "## "); ok {
			title = strings.TrimSpace(name)
			continue
		}
		if title != "" {
			out[title] += line
		}
	}
	for t, s := range out {
		out[t] = strings.TrimRight(s, "\n") + "\n"
	}
	return out
}
