package main

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"blowdraw/decode"
	"blowdraw/tabber/formats/melody"
	"blowdraw/tabber/formats/midi"
	"blowdraw/tabber/formats/musicxml"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// importFlags are what the import command can be told.
type importFlags struct {
	harp      harpFlags
	songKey   string
	part      int
	overbends bool
	recording string
	section   sectionFlags
	bpm       float64
	meter     string
	format    string
	output    outputFlags
}

func newImportCommand() *cobra.Command {
	var f importFlags
	c := &cobra.Command{
		Use:   "import FILE --harp KEY",
		Short: "Write tab from a MIDI file, a score, or tab in plain text",
		Long: `Reads a melody from a MIDI file or a MusicXML score (.mid, .musicxml, .xml, .mxl;
told by its content) and writes it as tab for your harp. Each phrase is moved by
octaves where more of it can be played so; what the harp does not have is written
as notes, with the nearest that it has, and told. Tab under the notes is kept
where it fits the harp.

A text is tab as players write it down, without times: lines such as
-2 -3b 4 -4 | 5 -5, in the common spellings, with words to sing under them. Words,
comments and bar signs stay where they stood; what is not understood is told and
kept as a comment. With --recording the notes are found in the sound, in order,
and get their times; what is not heard there, or played otherwise, is told and
marked as doubtful. Without it times are made up.

- reads from standard input.`,
		Example: `  blowdraw import tune.mid --harp G
  blowdraw import song.musicxml --harp C --part 2 -o song.tab
  blowdraw import notebook.txt --harp A --recording record.mp3 --from 1:02 --for 40 -o solo.tab`,
		Args: oneMelody,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args[0]) },
	}
	f.harp.add(c)
	c.Flags().StringVar(&f.songKey, "song-key", "",
		"key of the song (default: as the file says, else second position)")
	c.Flags().IntVar(&f.part, "part", 0, "which part, from 1 (default: the one with the most notes)")
	c.Flags().BoolVar(&f.overbends, "overbends", false, "allow overblows and overdraws")
	c.Flags().StringVar(&f.recording, "recording", "", "for a text: the recording in which to find its notes")
	f.section.add(c)
	c.Flags().Float64Var(&f.bpm, "bpm", 0, "for a text without a recording: beats a minute (default: 120)")
	c.Flags().StringVar(&f.meter, "meter", "", "for a text without a recording: 4/4, 12/8 or 3/4")
	c.Flags().StringVar(&f.format, "format", "tab", "tab, json or csv")
	f.output.add(c)
	return c
}

func oneMelody(c *cobra.Command, args []string) error {
	if len(args) != 1 || args[0] == "" {
		return usage(c, "want one MIDI file, score or text")
	}
	return nil
}

func (f *importFlags) run(c *cobra.Command, path string) error {
	write, err := writerFor(c, f.format)
	if err != nil {
		return err
	}
	if err := f.check(c); err != nil {
		return err
	}
	data, name, err := readWhole(c, path)
	if err != nil {
		return err
	}
	if isText(data) {
		return f.importTab(c, name, data, write)
	}
	for _, flag := range []string{"recording", "from", "to", "for", "channel", "bpm", "meter"} {
		if c.Flags().Changed(flag) {
			return usage(c, "--%s is for tab in plain text", flag)
		}
	}
	h, err := f.harp.parse(c)
	if err != nil {
		return err
	}
	m, err := readMelody(name, data)
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
	d.Minor, d.SongAssumed = minor, m.Key < 0 && f.songKey == ""
	d.Notes = append(d.Notes, "from "+filepath.Base(name))
	if err := f.output.write(c, func(w io.Writer) error { return write(w, d) }); err != nil {
		return err
	}
	tellFlags(c.ErrOrStderr(), name, d, flags)
	return nil
}

// check the flags before anything is read.
func (f *importFlags) check(c *cobra.Command) error {
	if f.recording == "" {
		for _, flag := range []string{"from", "to", "for", "channel"} {
			if c.Flags().Changed(flag) {
				return usage(c, "--%s goes with --recording", flag)
			}
		}
	}
	switch {
	case c.Flags().Changed("recording") && f.recording == "":
		return usage(c, "--recording: the name is empty")
	case c.Flags().Changed("bpm") && !(f.bpm >= 20 && f.bpm <= 400):
		return usage(c, "--bpm %g: want 20 to 400 beats a minute", f.bpm)
	case f.meter != "" && tab.Meters[f.meter] == 0:
		return usage(c, "--meter %q: want 4/4, 12/8 or 3/4", f.meter)
	case f.recording != "" && (f.bpm > 0 || f.meter != ""):
		return usage(c, "--recording gives the notes their times: --bpm and --meter can't be given as well")
	}
	return f.output.check(c)
}

// readWhole reads a file, or standard input if the path is -, that is no recording.
func readWhole(c *cobra.Command, path string) (data []byte, name string, err error) {
	name = path
	in := c.InOrStdin()
	if path == stdinName {
		name = "standard input"
	} else {
		f, err := os.Open(path)
		if err != nil {
			return nil, name, cannotRead(path, err)
		}
		defer f.Close()
		in = f
	}
	b := bufio.NewReader(in)
	if isSound(b) {
		return nil, name, &decode.Error{
			Path:    name,
			Problem: "it is a recording, not a MIDI file, a score or a text",
			Hint:    "Write its tab: blowdraw transcribe",
		}
	}
	if data, err = io.ReadAll(b); err != nil {
		return nil, name, fmt.Errorf("reading %s: %w", name, err)
	}
	return data, name, nil
}

// readMelody reads a MIDI file or a score, told by its first bytes.
func readMelody(name string, data []byte) (melody.Melody, error) {
	read := musicxml.Read
	if bytes.HasPrefix(data, []byte("MThd")) {
		read = midi.Read
	}
	m, err := read(bytes.NewReader(data))
	if err != nil {
		return m, fmt.Errorf("%s: %w", name, err)
	}
	return m, nil
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
