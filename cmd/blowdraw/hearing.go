package main

import (
	"cmp"
	"fmt"
	"strings"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber"
	"blowdraw/tabber/review"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// hearing is listening once more to the recording of a tab. Channel and ear may be
// empty: then they are those that the tab names.
type hearing struct{ recording, channel, ear string }

// run opens the section that the tab is about and hands it to listen with a
// transcriber for the tab's harp and tuning; a tuning of 0 is measured. Where a transcription
// measures what the tab has, all is heard as it heard it. Doing says what failed if it fails.
func (h hearing) run(
	c *cobra.Command,
	d tab.Document,
	doing string,
	listen func(t *tabber.Transcriber, s *decode.Stream, from float64) error,
) error {
	section, err := h.section(c, d)
	if err != nil {
		return err
	}
	opt := tabber.Options{Overbends: review.Overbent(d.Events), Ear: h.ear}
	if h.ear != "" {
		err = checkEar(c, h.ear)
	} else if opt.Ear = "learned"; checkEar(c, d.Ear) == nil {
		opt.Ear = d.Ear
	}
	if err != nil {
		return err
	}
	if d.TuningCents != 0 {
		opt.Written = &d.TuningCents
	}
	s, err := decode.Open(h.recording, section)
	if err != nil {
		return err
	}
	defer s.Close()
	bar := newProgress(c.ErrOrStderr(), strings.Fields(doing)[0], section.To-section.From)
	opt.Progress = bar.at
	t, err := tabber.NewTranscriber(d.Harp, opt)
	if err == nil {
		err = listen(t, s, section.From)
	}
	bar.done()
	if err != nil {
		return fmt.Errorf("%s %s: %w", doing, h.recording, err)
	}
	for _, w := range s.Warnings() {
		fmt.Fprintf(c.ErrOrStderr(), "blowdraw: %s: %s\n", h.recording, w)
	}
	return nil
}

// section is the part of the recording that a tab is about: its section, or where
// it has none its events with a second on either side.
func (h hearing) section(c *cobra.Command, d tab.Document) (decode.Options, error) {
	opt := decode.Options{Rate: pitch.Rate, From: d.From, To: d.To}
	if opt.To <= opt.From && len(d.Events) > 0 {
		opt.From = max(0, d.Events[0].Start-1)
		for _, e := range d.Events {
			opt.To = max(opt.To, e.End+1)
		}
	}
	var err error
	if opt.Channel, err = decode.ParseChannel(cmp.Or(h.channel, d.Channel, "mix")); err != nil {
		return opt, usage(c, "--channel: %w", err)
	}
	return opt, nil
}
