package main

import (
	"cmp"
	"errors"
	"fmt"

	"blowdraw/decode"
	"blowdraw/decode/stretch"
	"blowdraw/tabber/render"
	"blowdraw/tabber/render/effect"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// renderFlags are what the render command can be told.
type renderFlags struct {
	sound soundFlags
	with  string
	speed float64
	click bool
	tone  string
}

func newRenderCommand() *cobra.Command {
	var f renderFlags
	c := &cobra.Command{
		Use:   "render TAB -o FILE",
		Short: "Hear a tab",
		Long: `Plays a tab into a sound file, at A4 = 440 Hz, so that you can play along.

With --with RECORDING the recording is heard on the left and the tab on the right,
at the recording's pitch and exactly in time with it: what is wrong in the tab
stands out. --slow slows both down.

TAB is a file, or - for standard input.

` + careWithVolume,
		Example: `  blowdraw render solo.tab -o solo-tab.wav
  blowdraw render solo.tab --with solo.wav --slow 0.5 -o check.wav
  blowdraw render solo.tab --click --loop 4 -o practice.flac`,
		Args: oneTab,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args[0]) },
	}
	c.Flags().StringVar(&f.with, "with", "", "the recording, to hear it on the left")
	c.Flags().Float64Var(&f.speed, "slow", 1, "speed: 0.5 is half as fast")
	c.Flags().BoolVar(&f.click, "click", false, "a click on every beat; the tab must have a tempo or bars")
	c.Flags().StringVar(&f.tone, "tone", "dry", "how the harp sounds: dry, room or amp")
	f.sound.add(c)
	return c
}

// alone is the rate in Hz of a tab that is heard by itself.
const alone = 44100

// errNoTempo is a tab whose beats can't be clicked.
var errNoTempo = errors.New("the tab has no tempo, so there are no beats to click; add a line such as " +
	"tempo: 92 bpm to its header")

func (f *renderFlags) run(c *cobra.Command, path string) error {
	if err := f.check(c); err != nil {
		return err
	}
	d, name, err := readWarned(c, path)
	if err != nil {
		return err
	}
	if len(d.Events) == 0 {
		return fmt.Errorf("%s: nothing is played", name)
	}
	if f.click && d.BPM <= 0 && len(d.Bars) == 0 {
		return fmt.Errorf("%s: %w", name, errNoTempo)
	}
	from, to := extent(d)
	if to-from > mostSeconds {
		return fmt.Errorf("%s: it runs for %s; at most %d minutes can be made to sound",
			name, decode.Clock(to-from), mostSeconds/60)
	}
	section := decode.Options{From: from, To: to}
	if f.with != "" {
		if section.Channel, err = decode.ParseChannel(cmp.Or(d.Channel, "mix")); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	rate, channels, err := untilStopped(c, func() (int, [][]float64, error) { return f.sounds(c, d, section) })
	if err != nil {
		return err
	}
	return f.sound.write(c, rate, channels)
}

// sounds are the tab alone, or the recording and the tab.
func (f *renderFlags) sounds(
	c *cobra.Command,
	d tab.Document,
	section decode.Options,
) (rate int, channels [][]float64, err error) {
	from := section.From
	if f.with == "" {
		channels = [][]float64{f.play(d, from, section.To, 0, alone)}
		f.finish(d, from, alone, channels)
		return alone, channels, nil
	}
	rate, record, err := loadChannels(c, f.with, section, false)
	if err != nil {
		return 0, nil, err
	}
	record = stretch.Stretch(record, rate, f.speed, 0)
	end := from + float64(len(record[0]))/float64(rate)*f.speed
	channels = [][]float64{record[0], f.play(d, from, end, d.TuningCents, rate)}
	f.finish(d, from, rate, channels)
	return rate, channels, nil
}

func (f *renderFlags) check(c *cobra.Command) error {
	if err := checkSpeed(c, "--slow", f.speed); err != nil {
		return err
	}
	if f.tone != "dry" && f.tone != "room" && f.tone != "amp" {
		return usage(c, "--tone %q: want dry, room or amp", f.tone)
	}
	return f.sound.check(c, f.with)
}

// extent of a tab in seconds: its section, or where it has none its events with a
// little room.
func extent(d tab.Document) (from, to float64) {
	if d.To > d.From {
		return d.From, d.To
	}
	from = max(0, d.Events[0].Start-0.5)
	for _, e := range d.Events {
		to = max(to, e.End+0.5)
	}
	return from, to
}

// play the tab from one time to another.
func (f *renderFlags) play(d tab.Document, from, to, cents float64, rate int) []float64 {
	x := make([]float64, int((to-from)/f.speed*float64(rate)+0.5))
	copy(x, render.Render(render.Play(d, from, f.speed, cents), render.Set{Seed: reeds}, rate))
	switch f.tone {
	case "room":
		x = effect.Reverb(x, rate, effect.Room{T60: 0.9, Direct: 4, PreDelay: 0.012, Seed: reeds})
	case "amp":
		x = effect.Overdrive(x, rate, effect.Amp{Drive: 8, Bias: 0.2, Low: 110, High: 5000})
	}
	return x
}

// reeds is the seed of the harp that plays.
const reeds = 20

// finish evens the channels out, adds the clicks and softens the whole.
func (f *renderFlags) finish(d tab.Document, from float64, rate int, channels [][]float64) {
	for _, x := range channels {
		render.Even(x, rate)
		if f.click {
			render.AddClicks(x, rate, render.Clicks(d, from, f.speed, float64(len(x))/float64(rate)))
		}
	}
	render.Soften(channels, rate)
}
