package main

import (
	"bytes"
	"fmt"
	"io"

	"blowdraw/decode"
	"blowdraw/decode/parallel"
	"blowdraw/tabber"
	"blowdraw/tabber/evidence"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/reading"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// textureFlags are what the texture command can be told.
type textureFlags struct {
	harp    harpFlags
	section sectionFlags
	alone   bool
	svg     string
	force   bool
}

func newTextureCommand() *cobra.Command {
	var f textureFlags
	c := &cobra.Command{
		Use:   "texture RECORDING",
		Short: "One note, double stop, split or chord: how likely, and why",
		Long: `Looks at a passage of at most a minute and tells for each event how likely it is
one note, a double stop, a split or a chord, with holes and interval of the two
likeliest. Where more than one reed is in question it shows why: which partials
of the second reed stand out, how much weaker it is, and from when it sounds.

Under it stands a ladder of the partials, from low to high, with their numbers
under each reed, the level in dB below the strongest, and a bar whose light part
is what the lowest reed does not explain. Octaves share their partials with the
lower reed: there it tells whether those waver against its other ones.

Without --harp it takes the likeliest harp by the sound around the passage, and says
so. Where none is likely, or with --alone, it tells one reed from an octave by the
sound alone, and finds only what has one fundamental.`,
		Example: `  blowdraw texture solo.wav --harp A --from 12.4 --for 3
  blowdraw texture solo.wav --harp A --from 12.4 --for 3 --svg split.svg
  blowdraw texture solo.wav --from 12.4 --for 3`,
		Args: oneRecording,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args[0]) },
	}
	f.harp.add(c)
	f.section.add(c)
	c.Flags().BoolVar(&f.alone, "alone", false,
		"look for no harp: tell one reed from an octave by the sound alone")
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
	if f.alone && c.Flags().Changed("harp") {
		return usage(c, "--alone looks for no harp: --harp can't be given as well")
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
	looks, title, err := f.look(c, path, section, clip)
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

// look at the passage, with the harp that is named or heard.
func (f *textureFlags) look(c *cobra.Command, path string, section decode.Options,
	clip decode.Clip) ([]evidence.Look, string, error) {
	end := clip.Start + float64(len(clip.Samples))/float64(clip.Rate)
	title := fmt.Sprintf("%s, %s to %s", tab.OneLine(path), decode.Clock(clip.Start), decode.Clock(end))
	h, sure, err := f.whichHarp(c, path, section, clip.Start, end)
	if err != nil {
		return nil, "", err
	}
	bar := newProgress(c.ErrOrStderr(), "listening", 0)
	defer bar.done()
	if h == nil {
		sounds, usual := evidence.Sounds(clip)
		return evidence.AloneLooks(clip, sounds, usual), title + ", by the sound alone", nil
	}
	t, err := tabber.NewTranscriber(*h, tabber.Options{})
	if err != nil {
		return nil, "", err
	}
	p, err := parallel.Await(c.Context(), func() (reading.Passage, error) { return t.Textures(clip), nil })
	if err != nil {
		return nil, "", err
	}
	title += fmt.Sprintf(", %s harp%s, %.1f cents from A4 = 440 Hz", harpName(*h), sure, p.Cents)
	return evidence.Looks(*h, clip, p), title, nil
}

// A harp that nobody names is looked for in the passage and so many seconds on either side, and
// taken from this probability on.
const (
	besideTexture = 15.0
	textureHarp   = 0.5
)

// whichHarp is the harp that is named, or the likeliest around the passage from one time to
// another in seconds, with how sure it is in words; nil if none is to be looked for or none is likely.
func (f *textureFlags) whichHarp(c *cobra.Command, path string, section decode.Options,
	from, to float64) (*harp.Harp, string, error) {
	if c.Flags().Changed("harp") {
		h, err := f.harp.parse(c)
		return &h, "", err
	}
	if f.alone {
		return nil, "", nil
	}
	layout := ""
	if c.Flags().Changed("layout") {
		layout = f.harp.layout
	}
	opt, err := searchOptions(c, "", layout)
	if err != nil {
		return nil, "", err
	}
	section.From, section.To = max(0, from-besideTexture), to+besideTexture
	bar := newProgress(c.ErrOrStderr(), whichText, 0)
	heard, err := whichHarp(c.Context(), io.Discard, bar, path, section, opt)
	if err != nil {
		if c.Context().Err() != nil {
			return nil, "", err
		}
		return nil, "", nil // too little is played there to tell
	}
	best := heard.Candidates[0]
	if best.Probability < textureHarp {
		return nil, "", nil
	}
	return &best.Harp, fmt.Sprintf(" by its sound (%s)", percent(best.Probability)), nil
}
