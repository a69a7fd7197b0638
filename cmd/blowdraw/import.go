package main

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"blowdraw/decode"
	"blowdraw/tabber/formats/melody"
	"blowdraw/tabber/formats/midi"
	"blowdraw/tabber/formats/musicxml"

	"github.com/spf13/cobra"
)

// importFlags are what the import command can be told.
type importFlags struct {
	harp      harpFlags
	songKey   string
	part      int
	overbends bool
	format    string
	output    outputFlags
}

func newImportCommand() *cobra.Command {
	var f importFlags
	c := &cobra.Command{
		Use:   "import MELODY --harp KEY",
		Short: "Write tab from a MIDI file or a score",
		Long: `Reads a melody from a MIDI file or a MusicXML score (.mid, .musicxml, .xml, .mxl;
told by its content) and writes it as tab for your harp. Each phrase is moved by
octaves where more of it can be played so; what the harp does not have is written
as notes, with the nearest that it has, and told. Tab under the notes is kept
where it fits the harp.

- reads from standard input.`,
		Example: `  blowdraw import tune.mid --harp G
  blowdraw import song.musicxml --harp C --part 2 -o song.tab`,
		Args: oneMelody,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args[0]) },
	}
	f.harp.add(c)
	c.Flags().StringVar(&f.songKey, "song-key", "",
		"key of the song (default: as the file says, else second position)")
	c.Flags().IntVar(&f.part, "part", 0, "which part, from 1 (default: the one with the most notes)")
	c.Flags().BoolVar(&f.overbends, "overbends", false, "allow overblows and overdraws")
	c.Flags().StringVar(&f.format, "format", "tab", "tab, json or csv")
	f.output.add(c)
	return c
}

func oneMelody(c *cobra.Command, args []string) error {
	if len(args) != 1 || args[0] == "" {
		return usage(c, "want one MIDI file or score")
	}
	return nil
}

func (f *importFlags) run(c *cobra.Command, path string) error {
	write, err := writerFor(c, f.format)
	if err != nil {
		return err
	}
	h, err := f.harp.parse(c)
	if err != nil {
		return err
	}
	if err := f.output.check(c); err != nil {
		return err
	}
	m, name, err := readMelody(c, path)
	if err != nil {
		return err
	}
	p, err := f.choose(c, name, m)
	if err != nil {
		return err
	}
	key, minor := m.Key, m.Minor
	if key < 0 || f.songKey != "" {
		if key, minor, err = songKey(c, f.songKey, h); err != nil {
			return err
		}
	}
	d, flags := m.Tab(p, h, key, f.overbends)
	d.Minor = minor
	d.Notes = append(d.Notes, "from "+filepath.Base(name))
	if err := f.output.write(c, func(w io.Writer) error { return write(w, d) }); err != nil {
		return err
	}
	tellFlags(c.ErrOrStderr(), name, d, flags)
	return nil
}

// readMelody reads a MIDI file or a score, told by its first bytes.
func readMelody(c *cobra.Command, path string) (m melody.Melody, name string, err error) {
	name = path
	in := c.InOrStdin()
	if path == stdinName {
		name = "standard input"
	} else {
		f, err := os.Open(path)
		if err != nil {
			return m, name, cannotRead(path, err)
		}
		defer f.Close()
		in = f
	}
	b := bufio.NewReader(in)
	if isSound(b) {
		return m, name, &decode.Error{Path: name, Problem: "it is a recording, not a MIDI file or a score",
			Hint: "Write its tab: blowdraw transcribe"}
	}
	read := musicxml.Read
	if head, _ := b.Peek(4); string(head) == "MThd" {
		read = midi.Read
	}
	if m, err = read(b); err != nil {
		return m, name, fmt.Errorf("%s: %w", name, err)
	}
	return m, name, nil
}

// choose the part that was asked for, or the one with the most notes, which is told
// if there are others.
func (f *importFlags) choose(c *cobra.Command, name string, m melody.Melody) (melody.Part, error) {
	n := len(m.Parts)
	switch {
	case n == 0:
		return melody.Part{}, fmt.Errorf("%s: it has no notes", name)
	case f.part < 0 || f.part > n:
		return melody.Part{}, usage(c, "--part %d: %s has %s", f.part, name, count(n, "part"))
	case f.part > 0:
		return m.Parts[f.part-1], nil
	}
	best := 0
	var names []string
	for i, p := range m.Parts {
		if len(p.Notes) > len(m.Parts[best].Notes) {
			best = i
		}
		names = append(names, fmt.Sprintf("%d %s (%s)",
			i+1, shorten(p.Name, 30), count(len(p.Notes), "note")))
	}
	if n > 1 {
		fmt.Fprintf(c.ErrOrStderr(), "blowdraw: %s: part %d is used; choose with --part: %s\n",
			name, best+1, strings.Join(names, ", "))
	}
	return m.Parts[best], nil
}
