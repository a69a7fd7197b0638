package main

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"blowdraw/decode"
	"blowdraw/tabber"
	"blowdraw/tabber/formats/captions"
	"blowdraw/tabber/formats/midi"
	"blowdraw/tabber/formats/musicxml"
	"blowdraw/tabber/formats/sheet"
	"blowdraw/tabber/tab"
	"blowdraw/tabber/tab/grid"

	"github.com/spf13/cobra"
)

// exportFlags are what the export command can be told.
type exportFlags struct {
	as     string
	beats  beatFlags
	offset string
	cue    string
	sheet  sheet.Options
	output outputFlags
}

const exportForms = "midi, musicxml, vtt, srt, sheet, csv, json or tab"

func newExportCommand() *cobra.Command {
	var f exportFlags
	c := &cobra.Command{
		Use:   "export TAB --as FORM",
		Short: "Give a tab away: notation, MIDI, captions, a sheet",
		Long: `Writes a tab in a form that others can use:

  midi      for a sequencer: harmonica, bends as pitch bend, the tab as lyrics
  musicxml  for a notation program: notes with the tab under them
  vtt, srt  captions for a lesson video, with --offset and --cue
  sheet     to hand out and play from: bars with the count under each note, a page to
            print if FILE ends in .html, else Markdown; --student leaves out doubts,
            cents and dB, --notes adds the notes' names, --large is for a stand
  csv, json for a spreadsheet or a program
  tab       the tab itself, to lay bars over it

A tab of a player alone has no bars: --bar-at names the time of a first beat, and
they are laid at the tab's tempo, or with --taps at the beats that you tapped along,
on the listening page or elsewhere.

Captions keep the times of the recording. If your video shows the section from
0:12 on, say --offset 0:12.

TAB is a file, or - for standard input.`,
		Example: `  blowdraw export solo.tab --as musicxml -o solo.musicxml
  blowdraw export solo.tab --as tab --bar-at 0:00.9 -o barred.tab
  blowdraw export solo.tab --as vtt --offset 0:12 --cue event -o lesson.vtt
  blowdraw export solo.tab --as sheet -o solo.html
  blowdraw export solo.tab --as sheet --student --large -o student.html`,
		Args: oneTab,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args[0]) },
	}
	c.Flags().StringVar(&f.as, "as", "", exportForms)
	f.beats.addLaid(c)
	c.Flags().StringVar(&f.offset, "offset", "", "captions: where in the video the tab's section begins "+
		"(default: the video is the recording)")
	c.Flags().StringVar(&f.cue, "cue", "phrase", "captions: a new one with each phrase, or event with "+
		"the event bold")
	addSheet(c, &f.sheet)
	f.output.add(c)
	return c
}

// addSheet adds the flags that say for whom a sheet is.
func addSheet(c *cobra.Command, opt *sheet.Options) {
	c.Flags().BoolVar(&opt.Student, "student", false, "sheet: without doubts, cents and dB")
	c.Flags().BoolVar(&opt.Notes, "notes", false, "sheet: with the notes' names, for other players")
	c.Flags().BoolVar(&opt.Large, "large", false, "sheet: for a music stand")
}

func (f *exportFlags) run(c *cobra.Command, path string) error {
	offset, err := f.check(c)
	if err != nil {
		return err
	}
	var opt tabber.Options
	if err := f.beats.options(c, &opt); err != nil {
		return err
	}
	if err := f.beats.forTab(c, opt); err != nil {
		return err
	}
	d, name, err := readWarned(c, path)
	if err != nil {
		return err
	}
	if d, err = f.beats.lay(d, opt, name); err != nil {
		return err
	}
	if len(d.Events) == 0 {
		return fmt.Errorf("%s: nothing is played", name)
	}
	if err := f.output.write(c, f.writer(d, offset)); err != nil {
		return err
	}
	if (f.as == "musicxml" || f.as == "midi") && !grid.Of(d).Known {
		fmt.Fprintf(c.ErrOrStderr(), "blowdraw: %s: the tab has no bars; they are counted in fours from its "+
			"first event; --bar-at %s, or when one begins, lays them\n", name, tab.Clock(d.Events[0].Start))
	}
	if f.as == "sheet" && len(d.Bars) == 0 {
		fmt.Fprintf(c.ErrOrStderr(), "blowdraw: %s: %s\n", name, sheet.NoBars(d))
	}
	return nil
}

// check the flags before anything is read; it returns the offset in seconds, -1 for
// none.
func (f *exportFlags) check(c *cobra.Command) (offset float64, err error) {
	captions := f.as == "vtt" || f.as == "srt"
	switch {
	case f.as == "":
		return 0, usage(c, "as what? Give --as %s", exportForms)
	case !strings.Contains(" midi musicxml vtt srt sheet csv json tab ", " "+f.as+" "):
		return 0, usage(c, "--as %q: want %s", f.as, exportForms)
	case f.cue != "phrase" && f.cue != "event":
		return 0, usage(c, "--cue %q: want phrase or event", f.cue)
	case !captions && (c.Flags().Changed("offset") || c.Flags().Changed("cue")):
		return 0, usage(c, "--offset and --cue are for vtt and srt")
	case f.as != "sheet" && f.sheet != (sheet.Options{}):
		return 0, usage(c, "--student, --notes and --large are for a sheet")
	case f.as == "midi" && f.output.file == "":
		return 0, usage(c, "--as midi needs a file: -o NAME.mid")
	}
	offset = -1
	if f.offset != "" {
		if offset, err = decode.ParseTime(f.offset); err != nil {
			return 0, usage(c, "--offset: %w", err)
		}
	}
	return offset, f.output.check(c)
}

// writer of the form that was asked for.
func (f *exportFlags) writer(d tab.Document, offset float64) func(io.Writer) error {
	opt := captions.Options{ByEvent: f.cue == "event"}
	if offset >= 0 {
		opt.Offset = offset - d.From
	}
	write := map[string]func(io.Writer, tab.Document) error{
		"midi": midi.Write, "musicxml": musicxml.Write, "tab": tab.WriteText, "csv": tab.WriteCSV,
		"json":  tab.WriteJSON,
		"sheet": func(w io.Writer, d tab.Document) error { return sheet.WriteMarkdown(w, d, f.sheet) },
		"vtt":   func(w io.Writer, d tab.Document) error { return captions.WriteVTT(w, d, opt) },
		"srt":   func(w io.Writer, d tab.Document) error { return captions.WriteSRT(w, d, opt) },
	}[f.as]
	ext := strings.ToLower(filepath.Ext(f.output.file))
	if f.as == "sheet" && (ext == ".html" || ext == ".htm") {
		write = func(w io.Writer, d tab.Document) error { return sheet.WriteHTML(w, d, f.sheet) }
	}
	return func(w io.Writer) error { return write(w, d) }
}
