package main

import (
	"cmp"
	"errors"
	"fmt"

	"blowdraw/decode"
	"blowdraw/decode/stretch"
	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/render"
	"blowdraw/tabber/render/effect"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// renderFlags are what the render command can be told.
type renderFlags struct {
	sound    soundFlags
	track    trackFlags
	with     string
	speed    float64
	tone     string
	leaveOut string
	phrase   int
}

func newRenderCommand() *cobra.Command {
	var f renderFlags
	c := &cobra.Command{
		Use:   "render TAB -o FILE",
		Short: "Hear a tab, or play along with it",
		Long: `Plays a tab into a sound file, at A4 = 440 Hz, so that you can play along.

With --with RECORDING the recording is heard on the left and the tab on the right,
at the recording's pitch and exactly in time with it: what is wrong in the tab
stands out. --slow slows both down.

--leave-out even plays every other phrase and leaves the others to you, in time, with
the click under them or, of a stereo recording whose harp is to one side, the band on
the other side. --phrase 3 makes an exercise of one phrase: slow, twice, then as
written, or with --with as recorded.

TAB is a file, or - for standard input.

` + careWithVolume,
		Example: `  blowdraw render solo.tab -o solo-tab.wav
  blowdraw render solo.tab --with solo.wav --slow 0.5 -o check.wav
  blowdraw render solo.tab --click --count-in 4 --slow 0.6 --loop 9 --faster 0.05 -o up.flac
  blowdraw render solo.tab --with solo.wav --leave-out even --click -o answer.mp3
  blowdraw render solo.tab --phrase 3 --count-in 4 -o third.wav`,
		Args: oneTab,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args[0]) },
	}
	c.Flags().StringVar(&f.with, "with", "", "the recording, to hear it on the left")
	c.Flags().Float64Var(&f.speed, "slow", 1, "speed: 0.5 is half as fast (default with --phrase: 0.6)")
	c.Flags().StringVar(&f.tone, "tone", "dry", "how the harp sounds: dry, room or amp")
	c.Flags().StringVar(&f.leaveOut, "leave-out", "", "phrases to leave out: even, odd, or numbers as 2,4-6")
	c.Flags().IntVar(&f.phrase, "phrase", 0, "an exercise of this phrase: slow, twice, then as it is")
	f.track.add(c)
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
	switch {
	case len(d.Events) == 0:
		return fmt.Errorf("%s: nothing is played", name)
	case f.track.beats() && d.BPM <= 0 && len(d.Bars) == 0:
		return fmt.Errorf("%s: %w", name, errNoTempo)
	}
	t, played, spans, err := f.choose(c, d)
	if err != nil {
		return err
	}
	if err := tooLong(name, t.from, t.to); err != nil {
		return err
	}
	play := func(speed float64) ([][]float64, error) {
		return evened(alone, f.play(played, t.from, t.to, speed, 0, alone)), c.Context().Err()
	}
	if f.with != "" {
		record, rate, err := f.record(c, d, name, t, spans)
		if err != nil {
			return err
		}
		t.rate = rate
		play = func(speed float64) ([][]float64, error) {
			left := stretch.Stretch([][]float64{record}, rate, speed, 0)[0]
			end := t.from + float64(len(left))/float64(rate)*speed
			right := f.play(played, t.from, end, speed, d.TuningCents, rate)
			return evened(rate, left, right), c.Context().Err()
		}
	}
	_, channels, err := untilStopped(c, func() (int, [][]float64, error) {
		x, err := t.build(play)
		return t.rate, x, err
	})
	if err != nil {
		return err
	}
	return f.sound.write(c, t.rate, channels)
}

// choose what is heard of a tab: the track, what is played on it, and the spans, in seconds, that
// are left out.
func (f *renderFlags) choose(
	c *cobra.Command,
	d tab.Document,
) (t track, played tab.Document, spans [][2]float64, err error) {
	t = track{trackFlags: f.track, beats: d, speeds: f.track.speeds(f.speed), rate: alone}
	t.from, t.to = extent(d)
	played = d
	phrases := phrasing.Groups(d)
	if f.phrase > len(phrases) {
		return t, d, nil, usage(c, "--phrase %d: the tab has %s", f.phrase, count(len(phrases), "phrase"))
	}
	if f.phrase > 0 {
		t = f.exercise(c, t, d, phrases[f.phrase-1])
		played = only(d, phrases[f.phrase-1])
	}
	if f.leaveOut != "" {
		set, err := parsePhrases(f.leaveOut, len(phrases))
		if err != nil {
			return t, d, nil, usage(c, "--leave-out %w", err)
		}
		played, spans = set.without(d)
	}
	return t, played, spans, nil
}

// evened are channels at a rate in Hz, each made even in loudness.
func evened(rate int, channels ...[]float64) [][]float64 {
	for _, x := range channels {
		render.Even(x, rate)
	}
	return channels
}

// between is how many seconds lie between the times of an exercise that is not counted in.
const between = 1.0

// slowPhrase is the usual speed of an exercise.
const slowPhrase = 0.6

// exercise is the track of one phrase: slow, twice, then as it is, as often as is asked for.
func (f *renderFlags) exercise(c *cobra.Command, t track, d tab.Document, events []int) track {
	slow := f.speed
	if !c.Flags().Changed("slow") {
		slow = slowPhrase
	}
	from, to := spanOf(d, events)
	t.from, t.to = max(t.from, from-roomBefore), min(max(t.to, to), to+roomAfter)
	t.speeds, t.pause = nil, between
	for range f.track.loop {
		t.speeds = append(t.speeds, slow, slow, 1)
	}
	return t
}

// only is a tab with some of its events.
func only(d tab.Document, events []int) tab.Document {
	all := d.Events
	d.Events = nil
	for _, i := range events {
		d.Events = append(d.Events, all[i])
	}
	return d
}

// record is the recording under a track, mono: the channel of the tab, and in the spans
// that are left out what stands on the other side of it, or nothing.
func (f *renderFlags) record(c *cobra.Command, d tab.Document, name string, t track,
	spans [][2]float64) (x []float64, rate int, err error) {
	section := decode.Options{From: t.from, To: t.to}
	if section.Channel, err = decode.ParseChannel(cmp.Or(d.Channel, "mix")); err != nil {
		return nil, 0, fmt.Errorf("%s: %w", name, err)
	}
	rate, record, err := loadChannels(c, f.with, section, false)
	if err != nil || len(spans) == 0 {
		return append(record, nil)[0], rate, err
	}
	var band []float64
	if other, ok := otherSide(d.Channel); ok {
		section.Channel = other
		_, channels, err := loadChannels(c, f.with, section, false)
		if err != nil {
			return nil, 0, err
		}
		band = channels[0]
	} else {
		warn(c.ErrOrStderr(), f.with, []string{"the harp is on both sides, so that nothing of the recording " +
			"is heard where a phrase is left out"})
	}
	for i := range spans {
		spans[i][0], spans[i][1] = spans[i][0]-t.from, spans[i][1]-t.from
	}
	return replaced(record[0], band, rate, spans), rate, nil
}

func (f *renderFlags) check(c *cobra.Command) error {
	if err := checkSpeed(c, "--slow", f.speed); err != nil {
		return err
	}
	if err := f.track.check(c); err != nil {
		return err
	}
	switch {
	case f.tone != "dry" && f.tone != "room" && f.tone != "amp":
		return usage(c, "--tone %q: want dry, room or amp", f.tone)
	case c.Flags().Changed("phrase") && f.phrase < 1:
		return usage(c, "--phrase %d: they are counted from 1", f.phrase)
	case f.phrase > 0 && f.leaveOut != "":
		return usage(c, "--phrase and --leave-out can't both be given")
	case f.phrase > 0 && f.track.faster > 0:
		return usage(c, "--phrase and --faster can't both be given: an exercise has its own speeds")
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

// play the tab from one time to another, in seconds of the recording, at a speed.
func (f *renderFlags) play(d tab.Document, from, to, speed, cents float64, rate int) []float64 {
	x := make([]float64, int((to-from)/speed*float64(rate)+0.5))
	copy(x, render.Render(render.Play(d, from, speed, cents), render.Set{Seed: reeds}, rate))
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
