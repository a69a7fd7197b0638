package report

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
)

func table(text string) func(context.Context, io.Writer) error {
	return func(_ context.Context, w io.Writer) error {
		_, err := fmt.Fprint(w, text)
		return err
	}
}

// A table that can be made is new, one that cannot keeps its old one, one that fails too;
// both are told.
func TestUpdate(t *testing.T) {
	sections := []Section{
		{Title: "One", About: "Of one.", Commands: []string{"count 1"}, Table: table("\n a  b \n\n1  2\n")},
		{Title: "Two", About: "Of two.", Commands: []string{"count 2"}, Table: table("3\n")},
	}
	first, err := Update(context.Background(), "", sections, io.Discard)
	if err != nil {
		t.Fatal(err)
	}
	want := head + "\n## One\n\nOf one.\n\n    $ count 1\n\n     a  b\n\n    1  2\n" +
		"\n## Two\n\nOf two.\n\n    $ count 2\n\n    3\n"
	if first != want {
		t.Errorf("%s\nwant\n%s", first, want)
	}
	if again, err := Update(context.Background(), first, sections, io.Discard); err != nil || again != first {
		t.Errorf("not the same again: %v\n%s", err, again)
	}
	broken := errors.New("broken")
	sections[0].Table = func(context.Context, io.Writer) error { return broken }
	sections[1].Missing = "no folder is given"
	sections = append(sections, Section{Title: "Three", Missing: "no time"},
		Section{Title: "Four", Missing: NotAsked})
	var told strings.Builder
	kept, err := Update(context.Background(), first, sections, &told)
	if !errors.Is(err, broken) || !strings.Contains(err.Error(), "One") {
		t.Errorf("%v, want what failed and of which table", err)
	}
	if kept != first {
		t.Errorf("%s\nwant the old tables\n%s", kept, first)
	}
	want = "One: it failed; its old table is kept\nTwo: no folder is given; its old table is kept\n" +
		"Three: no time; it has no table yet\n"
	if told.String() != want {
		t.Errorf("told %q, want %q", told.String(), want)
	}
}

// Stopped half-way, nothing is to be written.
func TestUpdateStopped(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	sections := []Section{{Title: "One", Table: func(ctx context.Context, _ io.Writer) error {
		stop()
		return ctx.Err()
	}}}
	if text, err := Update(ctx, "old", sections, io.Discard); text != "" || !errors.Is(err, context.Canceled) {
		t.Errorf("%q, %v", text, err)
	}
}

// The sections have titles of their own, say what they are, and lack something when
// nothing is given.
func TestSections(t *testing.T) {
	seen := map[string]bool{}
	for _, s := range Sections(Given{}) {
		if seen[s.Title] || s.Title == "" || s.About == "" || len(s.Commands) == 0 || s.Missing == "" {
			t.Errorf("%q: twice %v, %q, %v, missing %q", s.Title, seen[s.Title], s.About, s.Commands, s.Missing)
		}
		seen[s.Title] = true
		lines := strings.Split(s.About, "\n")
		for _, c := range s.Commands {
			cut := broken(c)
			if strings.Join(cut, " ") != c {
				t.Errorf("%q: %q is cut into %q", s.Title, c, cut)
			}
			lines = append(lines, cut...)
		}
		for _, line := range lines {
			if len(line) > 106 {
				t.Errorf("%q: a line of %d: %s", s.Title, len(line), line)
			}
		}
	}
}

// What go test -v logs, without where in which file.
func TestLogged(t *testing.T) {
	out := "=== RUN   TestPairs\n    pairs_test.go:84: octave, render: all  0.985 of 600\n" +
		"    pairs_test.go:90: ECE: 0.1\n--- PASS: TestPairs (1.00s)\nPASS\nok  \tx\t1s\n"
	if got, want := logged(out), "octave, render: all  0.985 of 600\nECE: 0.1\n"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
