package main

import (
	"bytes"
	"fmt"
	"io"
	"strconv"
	"strings"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

func newLayoutCommand() *cobra.Command {
	var f harpFlags
	var songKey string
	var overbends bool
	c := &cobra.Command{
		Use:   "layout --harp KEY",
		Short: "Show the notes of a harp",
		Long: `Shows which note each hole of a harp gives: blow, draw, the bends in whole
semitones, and the overblows and overdraws if asked for. With the key of the song
it also shows them as degrees of that key. Sharps and flats are those of the
harp's key, and for the other notes of the song's (second position if not given).

The file of a layout of your own has two rows, a note for each hole, blow first:

  C4 E G C E G C E G C
  D G B D F A B D F# A`,
		Example: `  blowdraw layout --harp A
  blowdraw layout --harp C --song-key G --overbends
  blowdraw layout --harp "low F" --layout country`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			h, err := f.parse(c)
			if err != nil {
				return err
			}
			key := harp.SongKey(h.Key(), 2)
			if songKey == "" {
				return layoutTable(c.OutOrStdout(), tab.Document{Harp: h, SongKey: key}, overbends, false)
			}
			key, minor, err := harp.ParseSongKey(songKey)
			if err != nil {
				return usage(c, "--song-key: %w", err)
			}
			d := tab.Document{Harp: h, SongKey: key, Minor: minor}
			return layoutTable(c.OutOrStdout(), d, overbends, true)
		},
	}
	f.add(c)
	c.Flags().StringVar(&songKey, "song-key", "", "key of the song: also show degrees of that key")
	c.Flags().BoolVar(&overbends, "overbends", false, "also show overblows and overdraws")
	return c
}

// layoutTable prints the notes of a harp, blow above the holes and draw below
// as they lie on the harp, and if asked for the same table in degrees of the
// song's key. Of the document it needs no more than harp and key.
func layoutTable(w io.Writer, d tab.Document, overbends, degrees bool) error {
	h, songKey := d.Harp, d.SongKey
	var b bytes.Buffer
	note := func(midi int) string { return h.NoteName(midi, songKey) }
	fmt.Fprintf(&b, "%s harp, %s layout. Hole 1 blow is %s; C4 is middle C.\n\n",
		h.Name, h.Layout.Name, note(h.Base))
	printRows(&b, layoutRows(h, overbends, note))
	if degrees {
		fmt.Fprintf(&b, "\nDegrees of %s, position %d\n\n",
			d.SongName(), d.HarpPosition())
		printRows(&b, layoutRows(h, overbends, func(midi int) string { return harp.Degree(midi, songKey) }))
	}
	_, err := w.Write(b.Bytes())
	return err
}

// layoutRows lists the rows of a table: a label, then a cell for each hole. Rows
// without any note are left out.
func layoutRows(h harp.Harp, overbends bool, name func(midi int) string) [][]string {
	row := func(label string, bend func(hole int) (int, bool), b harp.Breath) [][]string {
		cells, any := []string{label}, false
		for hole := 1; hole <= h.Layout.Holes(); hole++ {
			cell := ""
			if n, ok := bend(hole); ok {
				cell, any = name(h.MIDI(harp.Action{Breath: b, Hole: hole, Bend: n})), true
			}
			cells = append(cells, cell)
		}
		if !any {
			return nil
		}
		return [][]string{cells}
	}
	bent := func(b harp.Breath, n int) [][]string {
		label := strings.TrimSpace(b.String() + " " + strings.Repeat("'", n))
		return row(label, func(hole int) (int, bool) { return n, n <= h.MaxBend(b, hole) }, b)
	}
	over := func(label string, b harp.Breath) [][]string {
		if !overbends {
			return nil
		}
		return row(label, func(hole int) (int, bool) { return h.Layout.Overbend(b, hole) }, b)
	}
	holes := []string{"hole"}
	deepest := 0
	for hole := 1; hole <= h.Layout.Holes(); hole++ {
		holes = append(holes, strconv.Itoa(hole))
		deepest = max(deepest, h.MaxBend(harp.Blow, hole), h.MaxBend(harp.Draw, hole))
	}
	rows := over("overblow", harp.Blow)
	for n := deepest; n >= 0; n-- {
		rows = append(rows, bent(harp.Blow, n)...)
	}
	rows = append(rows, holes)
	for n := 0; n <= deepest; n++ {
		rows = append(rows, bent(harp.Draw, n)...)
	}
	return append(rows, over("overdraw", harp.Draw)...)
}

// printRows writes rows in columns.
func printRows(b *bytes.Buffer, rows [][]string) {
	label, cell := 0, len("Bb4") // notes and degrees in the same columns
	for _, r := range rows {
		label = max(label, len(r[0]))
		for _, c := range r[1:] {
			cell = max(cell, len(c))
		}
	}
	for _, r := range rows {
		line := fmt.Sprintf("%-*s", label, r[0])
		for _, c := range r[1:] {
			line += fmt.Sprintf("  %-*s", cell, c)
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
}
