package main

import (
	"bytes"
	"fmt"
	"strings"

	"blowdraw/decode"
	"blowdraw/tabber"
	"blowdraw/tabber/presence"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// listStretches prints where the harp plays instead of tab.
func (f *transcribeFlags) listStretches(c *cobra.Command, path string, t task) error {
	for _, other := range []string{"output", "format", "keep-voice"} {
		if c.Flags().Changed(other) {
			return usage(c, "--find lists stretches and writes no tab: leave out --%s", other)
		}
	}
	if f.ear == "classical" {
		return usage(c, "--find needs the learned ear")
	}
	h, _, err := t.complete(c.Context(), c.ErrOrStderr(), path)
	if err != nil {
		return err
	}
	r, _, err := listen(c.Context(), c.ErrOrStderr(), path, path, h, t.section, t.opt)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	writeStretches(&b, r)
	_, err = c.OutOrStdout().Write(b.Bytes())
	return err
}

// writeStretches lists where the harp plays, and how to transcribe the longest
// of it.
func writeStretches(b *bytes.Buffer, r tabber.Result) {
	rows := [][]string{{"from", "to", "length", "notes", "sure"}}
	var longest presence.Stretch
	for _, s := range r.Stretches {
		notes, sure := notesIn(r.Events, s)
		if s.Kind != presence.Harp || notes == 0 {
			continue
		}
		if s.End-s.Start > longest.End-longest.Start {
			longest = s
		}
		rows = append(
			rows,
			[]string{decode.Clock(s.Start), decode.Clock(s.End), fmt.Sprintf("%.1f s", s.End-s.Start),
				fmt.Sprint(notes), fmt.Sprintf("%.0f%%", 100*float64(sure)/float64(notes))},
		)
	}
	if len(rows) == 1 {
		b.WriteString("Nothing surely sounds like a harp.\n")
		return
	}
	fmt.Fprintf(b, "The harp plays here; sure is the share of notes given %.0f%% or more.\n\n", 100*tab.SureFrom)
	printColumns(b, rows)
	fmt.Fprintf(
		b,
		"\nThe longest stretch: --from %s --to %s\n",
		decode.Clock(max(0, longest.Start-1)),
		decode.Clock(longest.End+1),
	)
}

// notesIn counts the events of a stretch, and those of them that are sure.
func notesIn(events []tab.Event, s presence.Stretch) (notes, sure int) {
	for _, e := range events {
		if mid := (e.Start + e.End) / 2; mid >= s.Start && mid < s.End {
			notes++
			if e.Confidence >= tab.SureFrom {
				sure++
			}
		}
	}
	return notes, sure
}

// leftOut says what was not written, and how to get it.
func leftOut(r tabber.Result) []string {
	voice, other := 0, 0
	for _, g := range r.Gaps() {
		if g.Voice {
			voice += g.LeftOut
		} else {
			other += g.LeftOut
		}
	}
	var parts []string
	if other > 0 {
		parts = append(parts, fmt.Sprintf("%s where no harp seems to play", count(other, "note")))
	}
	if voice > 0 {
		parts = append(
			parts,
			fmt.Sprintf("%s where somebody probably sings or speaks (--keep-voice keeps them)", count(voice, "note")),
		)
	}
	if len(parts) == 0 {
		return nil
	}
	return []string{"left out " + strings.Join(parts, " and ")}
}
