package main

import (
	"bytes"
	"fmt"
	"math"

	"blowdraw/decode"
	"blowdraw/tabber"
	"blowdraw/tabber/beats"
	"blowdraw/tabber/compare"
	"blowdraw/tabber/review"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// take compares a tab with a recording in which its passage is played.
func (f *compareFlags) take(c *cobra.Command, a tab.Document, nameA, path string) error {
	if f.align {
		return usage(c, "--align is for two tabs; in a recording the passage is looked for")
	}
	if len(a.Events) == 0 {
		return fmt.Errorf("%s: it has no notes, so there is nothing to compare with", nameA)
	}
	b, err := f.hear(c, a, path)
	if err != nil {
		return err
	}
	p, found := compare.Place(a, b)
	if !found {
		return &decode.Error{Path: path, Problem: fmt.Sprintf("the passage of %s is not heard in it", nameA),
			Hint: "Is it the same harp? blowdraw harps tells which is played"}
	}
	moved, played := p.Moved(a), p.Within(a, b)
	d := compare.Difference(moved, played, 0, f.onset)
	v := d.Verdict(moved, f.onset)
	var out bytes.Buffer
	fmt.Fprintf(&out, "A  %s: %s, %s harp\nB  %s: %s heard, %d of them %s\n\n",
		nameA, count(len(a.Events), "event"), a.Harp.Name, path, count(len(b.Events), "event"),
		len(played.Events), passageText(moved))
	printVerdict(&out, v, len(a.Events), tempoText(p.Speed, a.BPM))
	if n := unsure(played); n > 0 {
		fmt.Fprintf(&out, "%s of B are in doubt: blowdraw transcribe tells which.\n", count(n, "event"))
	}
	if f.scores {
		out.WriteString("\n")
		f.printScores(&out, d)
	}
	bpm := moved.BPM
	if f.bpm > 0 {
		bpm = f.bpm * p.Speed
	}
	f.printTiming(&out, moved, d, bpm)
	printDifferences(&out, a, played, moved, d, 0, f.onset)
	_, err = c.OutOrStdout().Write(out.Bytes())
	return err
}

// hear transcribes the recording for the harp of the tab.
func (f *compareFlags) hear(c *cobra.Command, a tab.Document, path string) (tab.Document, error) {
	section, err := f.section.options(c)
	if err != nil {
		return tab.Document{}, err
	}
	opt := tabber.Options{Overbends: review.Overbent(a.Events), Asked: beats.Asked{SongKey: &a.SongKey}}
	d, err := transcribe(c.Context(), c.ErrOrStderr(), path, a.Harp, section, opt)
	d.SongKey, d.Minor = a.SongKey, a.Minor
	return d, err
}

// passageText is from when to when a passage is played.
func passageText(moved tab.Document) string {
	to := 0.0
	for _, e := range moved.Events {
		to = max(to, e.End)
	}
	return fmt.Sprintf("in the passage, %s to %s", tab.Clock(moved.Events[0].Start), tab.Clock(to))
}

// tempoText is how fast B is against A, and at what tempo if that of A is known.
func tempoText(speed, bpm float64) string {
	s := "at A's tempo"
	if percents := math.Round(100 * speed); percents != 100 {
		s = fmt.Sprintf("at %.0f%% of A's tempo", percents)
	}
	if bpm > 0 {
		s += fmt.Sprintf(", %.0f bpm", bpm*speed)
	}
	return s
}

// unsure is how many events of a tab are in doubt.
func unsure(d tab.Document) int {
	n := 0
	for _, e := range d.Events {
		if e.Doubtful() {
			n++
		}
	}
	return n
}
