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
	speed   float64
	cents   float64
	toHarp  string
	countIn int
	bpm     float64
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

` + careWithVolume,
		Example: `  blowdraw slow solo.wav --from 1:23 --for 12 --speed 0.6 -o practice.wav
  blowdraw slow record.mp3 --from 41 --to 55 --speed 0.75 --to-harp A --loop 4 -o loop.flac
  blowdraw slow solo.wav --speed 0.5 --bpm 92 --count-in 4 -o slow.wav`,
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
	c.Flags().IntVar(&f.countIn, "count-in", 0, "clicks before the section, one a beat; needs --bpm")
	c.Flags().Float64Var(&f.bpm, "bpm", 0, "beats a minute of the recording, for the clicks")
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
	cents := f.cents
	if f.toHarp != "" {
		if cents, err = f.centsToHarp(c, path, section); err != nil {
			return err
		}
	}
	rate, channels, err := untilStopped(c, func() (rate int, channels [][]float64, err error) {
		if rate, channels, err = loadChannels(c, path, section, both); err == nil {
			channels = stretch.Stretch(channels, rate, f.speed, cents)
			render.Soften(channels, rate)
		}
		return rate, channels, err
	})
	if err != nil {
		return err
	}
	if f.countIn > 0 {
		for i, x := range channels {
			channels[i] = append(f.clicks(rate), x...)
		}
	}
	return f.sound.write(c, rate, channels)
}

// check the flags before anything is read.
func (f *slowFlags) check(c *cobra.Command, recording string) error {
	if err := checkSpeed(c, "--speed", f.speed); err != nil {
		return err
	}
	switch {
	case !(math.Abs(f.cents) <= 300):
		return usage(c, "--cents %g: want -300 to 300", f.cents)
	case f.toHarp != "" && c.Flags().Changed("cents"):
		return usage(c, "--to-harp and --cents can't both be given")
	case f.countIn < 0 || f.countIn > 32:
		return usage(c, "--count-in %d: want 0 to 32", f.countIn)
	case f.countIn > 0 && !(f.bpm >= 20 && f.bpm <= 400):
		return usage(c, "--count-in needs the tempo: --bpm, 20 to 400 beats a minute")
	}
	return f.sound.check(c, recording)
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

// clicks of the count-in, as long as their beats at the speed that is played.
func (f *slowFlags) clicks(rate int) []float64 {
	beat := 60 / f.bpm / f.speed
	var at []render.Click
	for i := range f.countIn {
		at = append(at, render.Click{At: float64(i) * beat, First: i == 0})
	}
	x := make([]float64, int(math.Round(float64(f.countIn)*beat*float64(rate))))
	render.AddClicks(x, rate, at)
	return x
}
