package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"

	"blowdraw/decode"
	"blowdraw/tabber"
	"blowdraw/tabber/review"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// refineFlags are what the refine command can be told.
type refineFlags struct {
	recording string
	channel   string
	ear       string
	output    string
	force     bool
	dryRun    bool
}

func newRefineCommand() *cobra.Command {
	var f refineFlags
	c := &cobra.Command{
		Use:   "refine TAB --recording RECORDING",
		Short: "Decide the doubtful events of a tab anew, around the settled ones",
		Long: `Listens again and decides the events that still have a question mark anew. Lines
without one stay as they are, and what is near has to go with them. So correct
what you hear, delete the question mark of a line that you have decided, put one
behind a line that you want decided again, and refine. Comments stay.

TAB is a file, or - for standard input.`,
		Example: `  blowdraw refine solo.tab --recording solo.wav --dry-run
  blowdraw refine solo.tab --recording solo.wav -o solo.tab --force`,
		Args: oneTab,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args[0]) },
	}
	c.Flags().StringVar(&f.recording, "recording", "", "the recording that the tab is of")
	c.Flags().StringVar(&f.channel, "channel", "", channelUsage+" (default: as the tab says)")
	c.Flags().StringVar(&f.ear, "ear", "", "how to listen: learned, or classical (default: as the tab says)")
	c.Flags().StringVarP(&f.output, "output", "o", "", "write to this file instead of the screen")
	c.Flags().BoolVar(&f.force, "force", false, "overwrite the file")
	c.Flags().BoolVar(&f.dryRun, "dry-run", false, "only print what would change")
	return c
}

func (f *refineFlags) run(c *cobra.Command, path string) error {
	switch {
	case f.recording == "":
		return usage(c, "which recording? Give it with --recording")
	case c.Flags().Changed("output") && f.output == "":
		return usage(c, "--output: the name is empty")
	case f.dryRun && f.output != "":
		return usage(c, "--dry-run writes nothing: --output can't be given as well")
	}
	if f.output != "" {
		if err := checkWritable(f.output, f.force); err != nil {
			return err
		}
	}
	was, err := contentOf(f.output)
	if err != nil {
		return err
	}
	d, _, err := readWarned(c, path)
	if err != nil {
		return err
	}
	decided, err := f.decide(c, d)
	if err != nil {
		return err
	}
	write := func(w io.Writer) error { return tab.WriteText(w, review.Replace(d, decided)) }
	switch {
	case f.dryRun:
		return printDecisions(c.OutOrStdout(), d, decided)
	case f.output != "":
		if err := unchanged(f.output, was); err != nil {
			return err
		}
		return writeFile(f.output, f.force, write)
	}
	return write(c.OutOrStdout())
}

// contentOf is what an output holds before it is written: nil if there is none.
func contentOf(path string) ([]byte, error) {
	if path == "" {
		return nil, nil
	}
	b, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, cannotRead(path, err)
	}
	return b, nil
}

// unchanged fails if a file no longer holds what it held, as a tab does not that was
// edited and saved while the program listened.
func unchanged(path string, was []byte) error {
	now, err := contentOf(path)
	if err == nil && (!bytes.Equal(was, now) || (was == nil) != (now == nil)) {
		err = &outputError{path, errors.New("it was changed meanwhile"), "It stays as it is now; run this again."}
	}
	return err
}

// decide what is doubtful in a tab by listening again.
func (f *refineFlags) decide(c *cobra.Command, d tab.Document) ([]review.Decision, error) {
	var out []review.Decision
	h := hearing{f.recording, f.channel, f.ear}
	err := h.run(c, d, "refining with", func(t *tabber.Transcriber, s *decode.Stream, from float64) (err error) {
		out, err = t.Refine(c.Context(), s, from, d.Events)
		return err
	})
	return out, err
}

// printDecisions lists what would change.
func printDecisions(w io.Writer, d tab.Document, decided []review.Decision) error {
	rows := [][]string{{"line", "time", "tab", "", "", "becomes", "", ""}}
	gone := map[int]bool{}
	for i, e := range d.Events {
		gone[i] = !review.Settled(e)
	}
	for _, x := range decided {
		gone[x.Of] = false
	}
	next := 0
	flush := func(before float64) { // of what goes, what stands before a time
		for ; next < len(d.Events) && d.Events[next].Start <= before; next++ {
			if e := d.Events[next]; gone[next] {
				rows = append(
					rows,
					[]string{fmt.Sprint(e.Line), tab.Clock(e.Start), d.EventToken(e), d.Doubt(e), "", "", "silence", ""},
				)
			}
		}
	}
	for _, x := range decided {
		flush(x.Event.Start)
		row := []string{"", "", "", "", "", tab.Clock(x.Event.Start), d.EventToken(x.Event), d.Doubt(x.Event)}
		if x.Of >= 0 {
			e := d.Events[x.Of]
			row[0], row[1], row[2], row[3] = fmt.Sprint(e.Line), tab.Clock(e.Start), d.EventToken(e), d.Doubt(e)
			if row[1] == row[5] && row[2] == row[6] && row[3] == row[7] &&
				fmt.Sprintf("%.3f", e.End) == fmt.Sprintf("%.3f", x.Event.End) {
				continue
			}
		}
		rows = append(rows, row)
	}
	flush(math.Inf(1))
	var b bytes.Buffer
	if len(rows) == 1 {
		b.WriteString("Nothing changes.\n")
	} else {
		printColumns(&b, rows)
	}
	_, err := w.Write(b.Bytes())
	return err
}
