package main

import (
	"fmt"
	"math"

	"blowdraw/decode"
	"blowdraw/decode/stretch"
	"blowdraw/pitch"
	"blowdraw/tabber"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/render"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// slowFlags are what the slow command can be told.
type slowFlags struct {
	section sectionFlags
	sound   soundFlags
	track   trackFlags
	speed   float64
	cents   float64
	toHarp  string
	bpm     float64
	barAt   string
	tab     string
}

// stereo keeps the channels of a recording as they are.
const stereo = "stereo"

func newSlowCommand() *cobra.Command {
	var f slowFlags
	c := &cobra.Command{
		Use:   "slow RECORDING -o FILE",
		Short: "Cut a practice excerpt, slower at the same pitch",
		Long: `Writes a section of a recording, slower without being lower, to play along with.

If the record runs sharp or flat, --to-harp KEY listens how far it is off for that
harp and brings it to the harp's pitch (A4 = 440 Hz); --cents moves it by hand. Where
the harp hardly fits what is played it is refused, unless you say --force.

--click and --count-in need the beats: --bpm, with --bar-at where a bar begins, or
--tab, a tab of the recording, which also says what section, if you don't.

` + careWithVolume,
		Example: `  blowdraw slow solo.wav --from 1:23 --for 12 --speed 0.6 -o practice.wav
  blowdraw slow record.mp3 --from 41 --to 55 --speed 0.75 --to-harp A --loop 4 -o loop.flac
  blowdraw slow solo.wav --speed 0.5 --bpm 92 --count-in 4 -o slow.wav
  blowdraw slow solo.wav --tab solo.tab --click --speed 0.6 --loop 9 --faster 0.05 -o up.mp3`,
		Args: oneRecording,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args[0]) },
	}
	f.section.add(c)
	channel := c.Flags().Lookup("channel")
	channel.Usage, channel.DefValue, f.section.channel = "what to keep of a stereo recording: stereo, mix, "+
		"left, right, side, or one less a share of the other, as left-0.25right", stereo, stereo
	c.Flags().Float64Var(&f.speed, "speed", 0.6, "1 is as recorded, 0.5 half as fast")
	c.Flags().StringVar(&f.toHarp, "to-harp", "", "key of your harp: bring the recording to its pitch")
	c.Flags().Float64Var(&f.cents, "cents", 0, "move the pitch by so many cents, up or down")
	f.track.add(c)
	c.Flags().Float64Var(&f.bpm, "bpm", 0, "beats a minute of the recording, for the clicks")
	c.Flags().StringVar(&f.barAt, "bar-at", "", "with --bpm: when a bar of four begins, for the clicks "+
		"(default: where the section does)")
	c.Flags().StringVar(&f.tab, "tab", "", "a tab of the recording, whose beats are clicked")
	f.sound.add(c)
	c.Flags().Lookup("force").Usage = "overwrite the file, and take a harp that does not fit"
	return c
}

func (f *slowFlags) run(c *cobra.Command, path string) error {
	both := f.section.channel == stereo
	if both {
		f.section.channel = ""
	}
	section, err := f.section.options(c)
	if err != nil {
		return err
	}
	if err := f.check(c, path); err != nil {
		return err
	}
	beats, err := f.beats(c, &section)
	if err != nil {
		return err
	}
	cents := f.cents
	if f.toHarp != "" {
		if cents, err = f.centsToHarp(c, path, section); err != nil {
			return err
		}
	}
	rate, channels, err := untilStopped(c, func() (int, [][]float64, error) {
		rate, record, err := loadChannels(c, path, section, both)
		if err != nil {
			return 0, nil, err
		}
		t := track{trackFlags: f.track, speeds: f.track.speeds(f.speed), from: section.From, rate: rate,
			to: section.From + float64(len(record[0]))/float64(rate), beats: beats}
		channels, err := t.build(func(speed float64) ([][]float64, error) {
			slow := stretch.Stretch(record, rate, speed, cents)
			render.Soften(slow, rate)
			return slow, c.Context().Err()
		})
		return rate, channels, err
	})
	if err != nil {
		return err
	}
	return f.sound.write(c, rate, channels)
}

// check the flags before anything is read.
func (f *slowFlags) check(c *cobra.Command, recording string) error {
	if err := checkSpeed(c, "--speed", f.speed); err != nil {
		return err
	}
	if err := f.track.check(c); err != nil {
		return err
	}
	switch {
	case !(math.Abs(f.cents) <= 300):
		return usage(c, "--cents %g: want -300 to 300", f.cents)
	case f.toHarp != "" && c.Flags().Changed("cents"):
		return usage(c, "--to-harp and --cents can't both be given")
	case c.Flags().Changed("bpm") && !(f.bpm >= 20 && f.bpm <= 400):
		return usage(c, "--bpm %g: want 20 to 400 beats a minute", f.bpm)
	case f.track.beats() && f.bpm == 0 && f.tab == "":
		return usage(c, "--click and --count-in need the beats: --bpm, 20 to 400 a minute, or --tab")
	case f.barAt != "" && f.bpm == 0:
		return usage(c, "--bar-at goes with --bpm")
	case f.bpm > 0 && f.tab != "":
		return usage(c, "--bpm and --tab can't both be given: the tab says the beats")
	}
	return f.sound.check(c, recording)
}

// beats are those that are clicked, as a tab: the one that is given, which also says the
// section if nothing else does, or one that only has beats.
func (f *slowFlags) beats(c *cobra.Command, section *decode.Options) (tab.Document, error) {
	if f.tab == "" {
		d := tab.Document{BPM: f.bpm, From: section.From, To: section.From + 1,
			Events: []tab.Event{{Start: section.From}}}
		if f.barAt == "" {
			return d, nil
		}
		at, err := decode.ParseTime(f.barAt)
		if err != nil {
			return d, usage(c, "--bar-at: %w", err)
		}
		return tab.LayBars(d, at, "", nil)
	}
	d, name, err := readWarned(c, f.tab)
	switch {
	case err != nil:
		return d, err
	case len(d.Events) == 0:
		return d, fmt.Errorf("%s: nothing is played", name)
	case f.track.beats() && d.BPM <= 0 && len(d.Bars) == 0:
		return d, fmt.Errorf("%s: %w", name, errNoTempo)
	}
	if !c.Flags().Changed("from") && section.To <= 0 {
		section.From, section.To = extent(d)
	}
	return d, nil
}

// centsToHarp listens how far the section is off the harp and returns the cents
// to move it by.
func (f *slowFlags) centsToHarp(c *cobra.Command, path string, section decode.Options) (float64, error) {
	l, err := harp.ParseLayout("richter")
	if err != nil {
		return 0, err
	}
	h, err := harp.Parse(f.toHarp, l)
	if err != nil {
		return 0, usage(c, "--to-harp: %w", err)
	}
	section.Rate = pitch.Rate
	d, err := transcribe(c.Context(), c.ErrOrStderr(), path, h, section, tabber.Options{})
	if err != nil {
		return 0, err
	}
	if !f.sound.force {
		if why := f.misfit(c, path, section, d); why != "" {
			return 0, &misfitError{path, why}
		}
	}
	way := "sharp"
	if d.TuningCents < 0 {
		way = "flat"
	}
	fmt.Fprintf(c.OutOrStdout(), "The recording is %.1f cents %s of the %s harp; moved to its pitch.\n",
		math.Abs(d.TuningCents), way, h.Name)
	return -d.TuningCents, nil
}

// nearestKey is how far off the nearest of the twelve keys can be, in cents.
const nearestKey = 50

// misfit says why the harp of a tab is hardly the one of its recording; empty if it may
// be.
func (f *slowFlags) misfit(c *cobra.Command, path string, section decode.Options, d tab.Document) string {
	if off := math.Abs(d.TuningCents); off > nearestKey {
		return fmt.Sprintf("it is %.1f cents off the %s harp, so that another key is nearer", off, d.Harp.Name)
	}
	if better := farBetterHarp(c.Context(), c.ErrOrStderr(), path, section, d); better != "" {
		return better
	}
	return tabber.Result{Events: d.Events}.WrongHarp(d.Harp)
}

// misfitError is a recording that is to be brought to the pitch of a harp that does not
// fit it.
type misfitError struct{ path, why string }

func (e *misfitError) Error() string { return e.path + ": " + e.why }
