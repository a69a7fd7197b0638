package main

import (
	"fmt"
	"io"

	"blowdraw/decode"
	"blowdraw/decode/parallel"
	"blowdraw/decode/stretch"

	"github.com/spf13/cobra"
)

// Limits of what is made to sound.
const (
	mostSeconds = 15 * 60
	mostLoops   = 100
	mostRate    = 48000 // Hz; recordings beyond it are brought down
)

// careWithVolume stands in the help of what makes sound.
const careWithVolume = `Start with the volume low, on headphones above all: what is written is no
louder than -14 LUFS, but hours of it are still hours.`

// soundFlags are how sound is written.
type soundFlags struct {
	output string
	force  bool
}

func (f *soundFlags) add(c *cobra.Command) {
	c.Flags().StringVarP(&f.output, "output", "o", "", "the file to write: "+soundNames)
	c.Flags().BoolVar(&f.force, "force", false, "overwrite the file")
}

// check before the work. The source is a recording, or empty, that must not be
// overwritten.
func (f *soundFlags) check(c *cobra.Command, source string) error {
	form := soundForm(f.output)
	_, known := soundForms[form]
	switch {
	case f.output == "":
		return usage(c, "which file? Give its name, such as -o practice.wav")
	case !known:
		return usage(c, "--output %s: want a name that ends in %s", f.output, soundNames)
	case sameFile(f.output, source):
		return usage(c, "--output %s is the recording", f.output)
	}
	if err := checkEncoder(form); err != nil {
		return err
	}
	return checkWritable(f.output, f.force)
}

// write the channels.
func (f *soundFlags) write(c *cobra.Command, rate int, channels [][]float64) error {
	write := func(w io.Writer) error {
		return writeSound(c.Context(), w, soundForm(f.output), rate, channels)
	}
	if err := writeFile(f.output, f.force, write); err != nil {
		return err
	}
	fmt.Fprintf(c.OutOrStdout(), "Written: %s, %s\n",
		f.output, decode.Clock(float64(len(channels[0]))/float64(rate)))
	return nil
}

func checkSpeed(c *cobra.Command, flag string, speed float64) error {
	if !(speed >= stretch.Slowest && speed <= 2) {
		return usage(c, "%s %g: want %g to 2 (0.5 is half as fast)", flag, speed, stretch.Slowest)
	}
	return nil
}

// untilStopped makes sound, which is given up when the command is stopped.
func untilStopped(
	c *cobra.Command,
	make func() (rate int, channels [][]float64, err error),
) (rate int, channels [][]float64, err error) {
	type made struct {
		rate     int
		channels [][]float64
	}
	m, err := parallel.Await(c.Context(), func() (made, error) {
		rate, channels, err := make()
		return made{rate, channels}, err
	})
	return m.rate, m.channels, err
}

// loadChannels reads a section of a recording at its own rate: one channel, or
// both of a stereo recording. Warnings go to standard error.
func loadChannels(c *cobra.Command, path string, opt decode.Options,
	both bool) (rate int, channels [][]float64, err error) {
	s, err := decode.Open(path, opt)
	if err != nil {
		return 0, nil, err
	}
	info := s.Info()
	if err := s.Close(); err != nil {
		return 0, nil, err
	}
	to := opt.To
	if to <= 0 {
		to = info.Duration
	}
	if to-opt.From > mostSeconds {
		return 0, nil, usage(c, "%s long: choose a section of at most %d minutes (--from, --to)",
			decode.Clock(to-opt.From), mostSeconds/60)
	}
	opt.Rate = min(info.Rate, mostRate)
	wanted := []decode.Channel{opt.Channel}
	if both && info.Channels == 2 {
		wanted = []decode.Channel{decode.Left, decode.Right}
	}
	for i, w := range wanted {
		opt.Channel = w
		clip, _, warnings, err := decode.Load(path, opt)
		if err != nil {
			return 0, nil, err
		}
		channels = append(channels, clip.Samples)
		if i == 0 {
			warn(c.ErrOrStderr(), path, warnings)
		}
	}
	return opt.Rate, channels, nil
}
