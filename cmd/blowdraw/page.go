package main

import (
	"fmt"
	"io"
	"net/url"
	"path/filepath"

	"blowdraw/decode"
	"blowdraw/tabber"
	"blowdraw/tabber/page"
	"blowdraw/tabber/render"
	"blowdraw/tabber/review"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// pageFlags are what the page command can be told.
type pageFlags struct {
	transcribe transcribeFlags // without a TAB
	audio      string
	output     string
	force      bool
}

// without are the flags that say what to transcribe, so that they don't go with a TAB.
var without = []string{"harp", "layout", "from", "to", "for", "channel", "song-key"}

func newPageCommand() *cobra.Command {
	f := pageFlags{transcribe: transcribeFlags{ear: "learned", marks: "main", format: "tab"}}
	c := &cobra.Command{
		Use:   "page RECORDING [TAB] -o FILE",
		Short: "See and hear a tab in the browser, and correct it there",
		Long: `Writes one HTML file that any browser opens with a double click: the section's
sound, its notes and measured pitch on the lanes of the harp, and the tab. Play and
loop it, slower at the same pitch, with the tab in the other ear; go from doubt to
doubt; choose another hole, move, split and join notes, and save the corrected tab.
The page needs no network and loads nothing.

Without TAB the section is transcribed first, for --harp or the likeliest harp.

--audio link leaves the sound outside: the page then plays the recording from where
it lies, and must find it there.

Start with the volume low, on headphones above all.`,
		Example: `  blowdraw page solo.wav solo.tab -o solo.html
  blowdraw page record.mp3 --harp A --from 1:23 --for 40 -o solo.html
  blowdraw page side-one.mp3 side-one.tab --audio link -o side-one.html`,
		Args: oneRecordingMaybeTab,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args) },
	}
	f.transcribe.harp.add(c)
	f.transcribe.section.add(c)
	addSongKey(c, &f.transcribe.songKey)
	c.Flags().StringVar(&f.audio, "audio", "inside", "where the sound is: inside the page, or link")
	c.Flags().StringVarP(&f.output, "output", "o", "", "the file to write, such as solo.html")
	c.Flags().BoolVar(&f.force, "force", false, "overwrite the file")
	return c
}

func oneRecordingMaybeTab(c *cobra.Command, args []string) error {
	if len(args) == 2 {
		return oneTab(c, args[1:])
	}
	return oneRecording(c, args)
}

func (f *pageFlags) run(c *cobra.Command, args []string) error {
	if err := f.check(c, args); err != nil {
		return err
	}
	recording := args[0]
	d, err := f.document(c, args)
	if err != nil {
		return err
	}
	p, err := pageOf(c, recording, d)
	if err != nil {
		return err
	}
	if len(args) == 2 && !review.Belongs(d, p.From, p.Pitches).Belongs() {
		warn(c.ErrOrStderr(), recording, []string{"does not sound like the recording of " + args[1]})
	}
	if f.audio == "link" {
		if p.Link, err = link(f.output, recording); err != nil {
			return err
		}
	}
	if err := writeFile(f.output, f.force, func(w io.Writer) error { return page.Write(w, p) }); err != nil {
		return err
	}
	fmt.Fprintf(c.OutOrStdout(), "Written: %s. Open it in a browser.\n", f.output)
	return nil
}

// pageOf hears the recording of a tab for its page.
func pageOf(c *cobra.Command, recording string, d tab.Document) (page.Page, error) {
	h := hearing{recording: recording}
	section, err := h.section(c, d)
	if err != nil {
		return page.Page{}, err
	}
	p := page.Page{Tab: d, From: section.From}
	bar := newProgress(c.ErrOrStderr(), "reading the sound", 0)
	rate, channels, err := untilStopped(c, func() (rate int, channels [][]float64, err error) {
		if rate, channels, err = loadChannels(c, recording, section, false); err == nil {
			render.Soften(channels, rate)
		}
		return rate, channels, err
	})
	bar.done()
	if err != nil {
		return p, err
	}
	p.Rate, p.Samples = rate, channels[0]
	err = h.run(c, d, "listening to", func(t *tabber.Transcriber, s *decode.Stream, from float64) (err error) {
		p.Pitches, err = t.Pitches(c.Context(), s, from)
		return err
	})
	return p, err
}

// check before the work.
func (f *pageFlags) check(c *cobra.Command, args []string) error {
	switch {
	case f.output == "":
		return usage(c, "which file? Give its name, such as -o solo.html")
	case f.audio != "inside" && f.audio != "link":
		return usage(c, "--audio %q: want inside or link", f.audio)
	}
	for _, flag := range without {
		if len(args) == 2 && c.Flags().Changed(flag) {
			return usage(c, "--%s is for a recording without a tab: %s says it", flag, args[1])
		}
	}
	if len(args) == 2 && sameFile(args[1], f.output) {
		return usage(c, "--output %s is the tab", f.output)
	}
	return checkOutput(c, f.output, f.force, args[0])
}

// document reads the tab, or transcribes the section.
func (f *pageFlags) document(c *cobra.Command, args []string) (tab.Document, error) {
	var d tab.Document
	if len(args) == 2 {
		d, name, err := readWarned(c, args[1])
		if err == nil && len(d.Events) == 0 && d.To <= d.From {
			err = fmt.Errorf("%s: it has no notes and no section, so there is nothing to show", name)
		}
		return d, err
	}
	task, err := f.transcribe.task(c)
	if err != nil {
		return d, err
	}
	return f.transcribe.document(c.Context(), c.ErrOrStderr(), args[0], task)
}

// link is the address of the recording as seen from the page.
func link(page, recording string) (string, error) {
	from, err := filepath.Abs(filepath.Dir(page))
	if err != nil {
		return "", err
	}
	to, err := filepath.Abs(recording)
	if err != nil {
		return "", err
	}
	path, err := filepath.Rel(from, to)
	if err != nil {
		return "", fmt.Errorf("the page can't link to %s: %w", recording, err)
	}
	return (&url.URL{Path: filepath.ToSlash(path)}).String(), nil
}
