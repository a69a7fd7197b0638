package main

import (
	"context"
	"fmt"
	"io"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber"
	"blowdraw/tabber/harp"

	"github.com/spf13/cobra"
)

// sectionFlags choose a section of a recording and its channel.
type sectionFlags struct{ from, to, length, channel string }

func (f *sectionFlags) add(c *cobra.Command) {
	c.Flags().StringVar(&f.from, "from", "", "where the section starts: 83.4, 1:23.4 or 1:02:03")
	c.Flags().StringVar(&f.to, "to", "", "where the section ends")
	c.Flags().StringVar(&f.length, "for", "", "how long the section is, instead of --to")
	c.Flags().StringVar(&f.channel, "channel", "mix", channelUsage)
}

const channelUsage = "what to hear of a stereo recording: mix, left, right, side, or one less a share of " +
	"the other, as left-0.25right"

// options for decode.Open, at the ears' rate.
func (f *sectionFlags) options(c *cobra.Command) (decode.Options, error) {
	opt := decode.Options{Rate: pitch.Rate}
	if f.to != "" && f.length != "" {
		return opt, usage(c, "--to and --for can't both be given")
	}
	var length float64
	for _, t := range []struct {
		flag, text string
		into       *float64
	}{{"--from", f.from, &opt.From}, {"--to", f.to, &opt.To}, {"--for", f.length, &length}} {
		if t.text == "" {
			continue
		}
		s, err := decode.ParseTime(t.text)
		if err != nil {
			return opt, usage(c, "%s: %w", t.flag, err)
		}
		if s <= 0 && t.flag != "--from" {
			return opt, usage(c, "%s %s: must be more than 0", t.flag, t.text)
		}
		*t.into = s
	}
	if f.length != "" {
		opt.To = opt.From + length
	}
	if opt.To > 0 && opt.To <= opt.From {
		return opt, usage(c, "the section ends (%s) before it starts (%s)",
			decode.Clock(opt.To), decode.Clock(opt.From))
	}
	var err error
	if opt.Channel, err = decode.ParseChannel(f.channel); err != nil {
		return opt, usage(c, "--channel: %w", err)
	}
	return opt, nil
}

// auto is the channel in which the harp is heard best.
const auto = "auto"

// bestChannel finds that channel, and says so if it is not the mix.
func bestChannel(ctx context.Context, stderr io.Writer, path string, h harp.Harp, section decode.Options,
	opt tabber.Options) (decode.Channel, error) {
	t, err := tabber.NewTranscriber(h, opt)
	if err != nil {
		return decode.Mix, err
	}
	bar := newProgress(stderr, "choosing the channel", 0)
	channel, err := t.BestChannel(ctx, path, section)
	bar.done()
	if err != nil {
		return decode.Mix, err
	}
	if channel != decode.Mix {
		warn(stderr, path, []string{fmt.Sprintf("the harp is clearest in the channel %s%s, which is used "+
			"(--channel mix hears both)", channel, taken(channel))})
	}
	return channel, nil
}

// taken explains a channel from which a share of the other is taken away.
func taken(c decode.Channel) string {
	if c == decode.Left || c == decode.Right || c == decode.Side || c == decode.Mix {
		return ""
	}
	return " (less what the other channel's band puts into it)"
}
