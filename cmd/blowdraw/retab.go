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
	songKey   string
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

With --position alone the harp is that of the tab. With --song-key the music moves to
that key; without --harp and --position the harp is found on which it is played as
before, or, where it can't be played so, in the position that has most of it.

TAB is a file, or - for standard input.`,
		Example: `  blowdraw retab solo.tab --harp D
  blowdraw retab solo.tab --harp A --position 3 -o third.tab
  blowdraw retab solo.tab --harp G --keep holes
  blowdraw retab solo.tab --song-key C`,
		Args: oneTab,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args[0]) },
	}
	f.harp.add(c)
	c.Flags().Lookup("layout").Usage = "tuning of the harp: " + layoutNames() +
		", or a file (default: as the tab says)"
	c.Flags().Lookup("layout").DefValue = ""
	c.Flags().IntVar(&f.position, "position", 0, "position to play in, 1 to 12 (default: the one that "+
		"keeps the key)")
	c.Flags().StringVar(&f.songKey, "song-key", "", "key that the music moves to, such as C or Am")
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
	overbends := f.overbends || !c.Flags().Changed("overbends") && review.Overbent(d.Events)
	key, minor, err := f.key(c, d)
	if err != nil {
		return err
	}
	h, err := f.harpFor(c, d, key, overbends)
	if err != nil {
		return err
	}
	var out tab.Document
	var flags []retab.Flag
	if f.keep == "holes" {
		out, flags = retab.Holes(d, h)
	} else {
		if f.position > 0 {
			key = harp.SongKey(h.Key(), f.position)
		}
		out, flags = retab.Music(d, h, key, overbends)
		if out.Minor = minor; f.songKey != "" {
			out.SongAssumed = false
			fmt.Fprintf(c.ErrOrStderr(), "blowdraw: in %s: %s harp, %s position\n", out.SongName(), h.Name,
				harp.PositionName(out.HarpPosition()))
		}
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
	case f.harp.key == "" && f.position == 0 && f.songKey == "":
		return usage(c, "for which harp? Give its key, such as --harp C, with --position another "+
			"position of the same harp, or with --song-key another key of the song")
	case f.keep == "holes" && f.songKey != "":
		return usage(c, "--keep holes lets the key follow the harp: --song-key can't be given as well")
	case f.harp.key != "" && f.position > 0 && f.songKey != "":
		return usage(c, "of --harp, --position and --song-key two say what the third is")
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

// key that the music moves to: the one named, or the tab's.
func (f *retabFlags) key(c *cobra.Command, d tab.Document) (key int, minor bool, err error) {
	if f.songKey == "" {
		return d.SongKey, d.Minor, nil
	}
	return songKey(c, f.songKey, d.Harp)
}

// harpFor is the harp that the flags name, or that of their position or key, or the tab's, in
// the tab's layout unless they name that too.
func (f *retabFlags) harpFor(c *cobra.Command, d tab.Document, key int, overbends bool) (harp.Harp, error) {
	found := f.harp.key == "" && f.songKey != ""
	if f.harp.key == "" {
		f.harp.key = d.Harp.Name
	}
	if c.Flags().Changed("layout") {
		h, err := f.harp.parse(c)
		if err != nil || !found {
			return h, err
		}
		d.Harp.Layout = h.Layout
	}
	if found {
		return f.harpInKey(d, key, overbends)
	}
	h, err := harp.Parse(f.harp.key, d.Harp.Layout)
	if err != nil {
		return h, usage(c, "--harp: %w", err)
	}
	return h, nil
}

// usualPositions are those that are tried for a key, the most played first (common practice, no
// source).
var usualPositions = []int{2, 1, 3, 12, 4, 5}

// harpInKey is the harp on which the music of a tab is played in a key: in the position that the
// flags name, or the tab's, or if that lacks notes the one that lacks fewest.
func (f *retabFlags) harpInKey(d tab.Document, key int, overbends bool) (harp.Harp, error) {
	positions := append([]int{d.HarpPosition()}, usualPositions...)
	if f.position > 0 {
		positions = []int{f.position}
	}
	var best harp.Harp
	least := -1
	for _, p := range positions {
		h, err := harp.Parse(harp.KeyName(harp.SongKey(key, 14-p)), d.Harp.Layout)
		if err != nil {
			return best, fmt.Errorf("finding a harp: %w", err)
		}
		if _, flags := retab.Music(d, h, key, overbends); least < 0 || len(flags) < least {
			best, least = h, len(flags)
		}
	}
	return best, nil
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
