package main

import (
	"bytes"
	"fmt"
	"io"

	"blowdraw/decode"
	"blowdraw/decode/parallel"
	"blowdraw/tabber"
	"blowdraw/tabber/evidence"
	"blowdraw/tabber/reading"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// textureFlags are what the texture command can be told.
type textureFlags struct {
	harp    harpFlags
	section sectionFlags
	svg     string
	force   bool
}

func newTextureCommand() *cobra.Command {
	var f textureFlags
	c := &cobra.Command{
		Use:   "texture RECORDING --harp KEY",
		Short: "One note, double stop, split or chord: how likely, and why",
		Long: `Looks at a passage of at most a minute and tells for each event how likely it is
one note, a double stop, a split or a chord, with holes and interval of the two
likeliest. Where more than one reed is in question it shows why: which partials
of the second reed stand out, how much weaker it is, and from when it sounds.

Under it stands a ladder of the partials, from low to high, with their numbers
under each reed, the level in dB below the strongest, and a bar whose light part
is what the lowest reed does not explain. Octaves share their partials with the
lower reed: there it tells whether those waver against its other ones.

Without --harp it tells one reed from an octave by the sound alone.`,
		Example: `  blowdraw texture solo.wav --harp A --from 12.4 --for 3
  blowdraw texture solo.wav --harp A --from 12.4 --for 3 --svg split.svg
  blowdraw texture solo.wav --from 12.4 --for 3`,
		Args: oneRecording,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args[0]) },
	}
	f.harp.add(c)
	f.section.add(c)
	c.Flags().StringVar(&f.svg, "svg", "", "also draw the spectra, with each reed's partials, into this file")
	c.Flags().BoolVar(&f.force, "force", false, "overwrite the file")
	return c
}

// passageSeconds is the longest passage that the command looks at.
const passageSeconds = 60

func (f *textureFlags) run(c *cobra.Command, path string) error {
	section, err := f.section.options(c)
	if err != nil {
		return err
	}
	if c.Flags().Changed("svg") {
		if f.svg == "" {
			return usage(c, "--svg: the name is empty")
		}
		if err := checkWritable(f.svg, f.force); err != nil {
			return err
		}
	}
	clip, err := f.load(c, path, section)
	if err != nil {
		return err
	}
	looks, title, err := f.look(c, path, clip)
	if err != nil {
		return err
	}
	if len(looks) == 0 {
		end := clip.Start + float64(len(clip.Samples))/float64(clip.Rate)
		return &silentError{path: path, from: clip.Start, to: end}
	}
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s\n\n", title)
	if err := evidence.WriteText(&b, looks, tab.Clock); err != nil {
		return err
	}
	if f.svg != "" {
		draw := func(w io.Writer) error { return evidence.WriteSVG(w, title, looks, tab.Clock) }
		err := writeFile(f.svg, f.force, draw)
		if err != nil {
			return err
		}
	}
	_, err = c.OutOrStdout().Write(b.Bytes())
	return err
}

// load the passage.
func (f *textureFlags) load(c *cobra.Command, path string, section decode.Options) (decode.Clip, error) {
	long := usage(c, "that is more than %d s: choose a passage with --from and --to", passageSeconds)
	if section.To > 0 && section.To-section.From > passageSeconds {
		return decode.Clip{}, long
	}
	section, err := shortened(path, section, passageSeconds+1)
	if err != nil {
		return decode.Clip{}, err
	}
	clip, _, warnings, err := decode.Load(path, section)
	if err != nil {
		return clip, err
	}
	if len(clip.Samples) > passageSeconds*clip.Rate {
		return clip, long
	}
	warn(c.ErrOrStderr(), path, warnings)
	return clip, nil
}

// look at the passage, with the harp if one is named.
func (f *textureFlags) look(c *cobra.Command, path string,
	clip decode.Clip) ([]evidence.Look, string, error) {
	end := clip.Start + float64(len(clip.Samples))/float64(clip.Rate)
	title := fmt.Sprintf("%s, %s to %s", tab.OneLine(path), decode.Clock(clip.Start), decode.Clock(end))
	bar := newProgress(c.ErrOrStderr(), "listening", 0)
	defer bar.done()
	if !c.Flags().Changed("harp") {
		looks, err := parallel.Await(c.Context(), func() ([]evidence.Look, error) {
			sounds, usual := evidence.Sounds(clip)
			return evidence.AloneLooks(clip, sounds, usual), nil
		})
		return looks, title + ", by the sound alone", err
	}
	h, err := f.harp.parse(c)
	if err != nil {
		return nil, "", err
	}
	t, err := tabber.NewTranscriber(h, tabber.Options{})
	if err != nil {
		return nil, "", err
	}
	p, err := parallel.Await(c.Context(), func() (reading.Passage, error) { return t.Textures(clip), nil })
	if err != nil {
		return nil, "", err
	}
	title += fmt.Sprintf(", %s harp, %.1f cents from A4 = 440 Hz", h.Name, p.Cents)
	return evidence.Looks(h, clip, p), title, nil
}
