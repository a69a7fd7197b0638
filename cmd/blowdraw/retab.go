package main

import (
	"fmt"
	"io"
	"strings"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/retab"
	"blowdraw/tabber/review"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// retabFlags are what the retab command can be told.
type retabFlags struct {
	harp      harpFlags
	position  int
	keep      string
	overbends bool
	format    string
	output    outputFlags
}

func newRetabCommand() *cobra.Command {
	var f retabFlags
	c := &cobra.Command{
		Use:   "retab TAB --harp KEY",
		Short: "Write a tab for another harp or position",
		Long: `Writes the music of a tab for another harp. It stays in its key, or with
--position moves to the key that the harp has in that position. Each phrase is
moved by octaves where more of it can be played so; what the harp does not have
is written as notes, with the nearest that it has, and told.

With --keep holes the holes stay and the music sounds in another key: for a
student who owns only that harp.

With --position alone the harp is that of the tab.

TAB is a file, or - for standard input.`,
		Example: `  blowdraw retab solo.tab --harp D
  blowdraw retab solo.tab --harp A --position 3 -o third.tab
  blowdraw retab solo.tab --harp G --keep holes`,
		Args: oneTab,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args[0]) },
	}
	f.harp.add(c)
	c.Flags().Lookup("layout").Usage = "tuning of the harp: " + layoutNames() +
		", or a file (default: as the tab says)"
	c.Flags().Lookup("layout").DefValue = ""
	c.Flags().IntVar(&f.position, "position", 0, "position to play in, 1 to 12 (default: the one that "+
		"keeps the key)")
	c.Flags().StringVar(&f.keep, "keep", "music", "what stays: music or holes")
	c.Flags().BoolVar(&f.overbends, "overbends", false,
		"allow overblows and overdraws (default: if the tab has some)")
	c.Flags().StringVar(&f.format, "format", "tab", "tab, json or csv")
	f.output.add(c)
	return c
}

func (f *retabFlags) run(c *cobra.Command, path string) error {
	write, err := writerFor(c, f.format)
	if err != nil {
		return err
	}
	if err := f.check(c); err != nil {
		return err
	}
	d, name, err := readWarned(c, path)
	if err != nil {
		return err
	}
	h, err := f.harpFor(c, d)
	if err != nil {
		return err
	}
	var out tab.Document
	var flags []retab.Flag
	if f.keep == "holes" {
		out, flags = retab.Holes(d, h)
	} else {
		key := d.SongKey
		if f.position > 0 {
			key = harp.SongKey(h.Key(), f.position)
		}
		overbends := f.overbends || !c.Flags().Changed("overbends") && review.Overbent(d.Events)
		out, flags = retab.Music(d, h, key, overbends)
	}
	if err := f.output.write(c, func(w io.Writer) error { return write(w, out) }); err != nil {
		return err
	}
	tellFlags(c.ErrOrStderr(), name, out, flags)
	return nil
}

// check the flags before anything is read.
func (f *retabFlags) check(c *cobra.Command) error {
	switch {
	case f.harp.key == "" && f.position == 0:
		return usage(c, "for which harp? Give its key, such as --harp C, or with --position another "+
			"position of the same harp")
	case f.keep != "music" && f.keep != "holes":
		return usage(c, "--keep %q: want music or holes", f.keep)
	case c.Flags().Changed("position") && (f.position < 1 || f.position > 12):
		return usage(c, "--position %d: want 1 to 12", f.position)
	case f.keep == "holes" && f.position > 0:
		return usage(c, "--keep holes keeps the position: --position can't be given as well")
	case f.keep == "holes" && f.overbends:
		return usage(c, "--keep holes chooses no holes: --overbends can't be given as well")
	}
	return f.output.check(c)
}

// harpFor is the harp that the flags name, or the tab's, in the tab's layout unless they name
// that too.
func (f *retabFlags) harpFor(c *cobra.Command, d tab.Document) (harp.Harp, error) {
	if f.harp.key == "" {
		f.harp.key = d.Harp.Name
	}
	if c.Flags().Changed("layout") {
		return f.harp.parse(c)
	}
	h, err := harp.Parse(f.harp.key, d.Harp.Layout)
	if err != nil {
		return h, usage(c, "--harp: %w", err)
	}
	return h, nil
}

// tellFlags lists what can't be had.
func tellFlags(w io.Writer, name string, d tab.Document, flags []retab.Flag) {
	for i, f := range flags {
		if i == mostMistakes {
			fmt.Fprintf(w, "blowdraw: %s: and %s that can't be had\n",
				name, count(len(flags)-i, "more event"))
			return
		}
		var notes []string
		for _, n := range f.Notes {
			notes = append(notes, d.Harp.NoteName(n, d.SongKey))
		}
		e := d.Events[f.Event]
		where := ""
		if e.Line > 0 { // it was written down
			where = fmt.Sprintf("line %d: ", e.Line)
		}
		fmt.Fprintf(w, "blowdraw: %s: %s%s  the %s harp does not have %s; nearest is %s\n",
			name, where, tab.Clock(e.Start), d.Harp.Name, strings.Join(notes, " "), tab.Token(f.Nearest))
	}
}
