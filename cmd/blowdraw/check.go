package main

import (
	"bytes"
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"blowdraw/decode"
	"blowdraw/tabber"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/review"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// checkFlags are what the check command can be told.
type checkFlags struct {
	recording string
	channel   string
	ear       string
	all       bool
}

func newCheckCommand() *cobra.Command {
	var f checkFlags
	c := &cobra.Command{
		Use:   "check TAB",
		Short: "Check a tab: by itself, or against the recording",
		Long: `Checks whether every note of a tab is playable on its harp, whether breath and
bends agree, whether every word of it is understood and stands for one thing, and
whether the times are in order. Exit code 1 if something is wrong.

With --recording every event is scored against the sound: whether its reeds
sound, from when, and how far off they are. The doubtful ones are listed, worst
first, with what is in doubt and what the recording suggests instead, and what it
has that the tab does not. All is heard as transcribe hears it: a line that is as
transcribe would write it is as sure, and is doubted for the same reason. Doubt is
no mistake: it leaves the exit code alone.

Lines and phrases that are marked as checked (a word behind them) are counted, and
are listed only where something else is heard.

TAB is a file, or - for standard input.`,
		Example: `  blowdraw check solo.tab
  blowdraw check solo.tab --recording solo.wav
  blowdraw retab solo.tab --harp G | blowdraw check -`,
		Args: oneTab,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args[0]) },
	}
	c.Flags().StringVar(&f.recording, "recording", "", "also check against this recording")
	c.Flags().StringVar(&f.channel, "channel", "", channelUsage+" (default: as the tab says)")
	c.Flags().StringVar(&f.ear, "ear", "", "how to listen: learned, or classical (default: as the tab says)")
	c.Flags().BoolVar(&f.all, "all", false, "list the events that agree with the recording, too")
	return c
}

func oneTab(c *cobra.Command, args []string) error {
	if len(args) != 1 || args[0] == "" {
		return usage(c, "want one tab, got %d; - is standard input", len(args))
	}
	return nil
}

// problemsError says how much is wrong with a tab, after what is has been told.
type problemsError struct {
	name string
	n    int
}

func (e *problemsError) Error() string { return fmt.Sprintf("%s: %s", e.name, count(e.n, "problem")) }

func (f *checkFlags) run(c *cobra.Command, path string) error {
	if f.recording == "" {
		for _, flag := range []string{"recording", "channel", "ear", "all"} {
			if c.Flags().Changed(flag) && flag == "recording" {
				return usage(c, "--recording: the name is empty")
			} else if c.Flags().Changed(flag) {
				return usage(c, "--%s goes with --recording", flag)
			}
		}
	}
	d, name, mistakes, err := readTab(c, path)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s: %s, %s, %s harp, %s position in %s\n",
		name, count(len(d.Events), "event"), count(len(d.Phrases), "phrase"),
		d.Harp.Name, harp.PositionName(d.HarpPosition()), d.SongName())
	problems := printProblems(&b, d, mistakes)
	if f.recording != "" {
		if err := f.listen(c, &b, d); err != nil {
			return err
		}
	}
	if _, err := c.OutOrStdout().Write(b.Bytes()); err != nil {
		return err
	}
	if problems > 0 {
		return &problemsError{name, problems}
	}
	return nil
}

// printProblems lists what is wrong with a tab by itself and returns how much
// that is.
func printProblems(b *bytes.Buffer, d tab.Document, mistakes tab.Errors) int {
	type problem struct {
		line int
		text string
	}
	var all []problem
	shown, stale := gathered(mistakes)
	for _, m := range shown {
		m = clipped(m)
		text := m.Error()
		if strings.TrimSpace(m.Source) != "" {
			text += "\n    " + m.Source
		}
		all = append(all, problem{m.Line, text})
	}
	for _, odd := range d.OddTimes() {
		e := d.Events[odd.Event]
		text := fmt.Sprintf("line %d: %s  %s %s", e.Line, tab.Clock(e.Start), d.EventToken(e), odd.Text)
		all = append(all, problem{e.Line, text})
	}
	slices.SortStableFunc(all, func(a, b problem) int { return cmp.Compare(a.line, b.line) })
	for _, p := range all {
		b.WriteString(p.text + "\n")
	}
	if stale != "" {
		b.WriteString(stale + "\n")
	}
	if len(all) == 0 {
		b.WriteString("Every note is playable and the times are in order.\n")
	}
	doubtful := 0
	for _, e := range d.Events {
		if e.Doubtful() {
			doubtful++
		}
	}
	if doubtful > 0 {
		fmt.Fprintf(b, "%s still marked as doubtful.\n", count(doubtful, "event"))
	}
	if s := d.Seen(); s.Checked > 0 {
		fmt.Fprintf(b, "%d of %s checked by ear, %.1f of %.1f s (%.0f%%).\n", s.Checked,
			count(s.Events, "event"), s.CheckedSeconds, s.Seconds, 100*s.CheckedSeconds/max(s.Seconds, 0.001))
	}
	return len(all) + len(mistakes) - len(shown)
}

// listen checks the events against the recording and prints what it says.
func (f *checkFlags) listen(c *cobra.Command, b *bytes.Buffer, d tab.Document) error {
	v, err := f.judge(c, d)
	if err != nil {
		return err
	}
	type judged struct {
		event tab.Event
		review.Judgement
	}
	var list []judged
	doubtful, unheard := 0, 0
	for i, j := range v.Judgements {
		switch {
		case !j.Heard:
			unheard++
			continue
		case j.Doubtful(d.Events[i]) && !(j.Same != nil && d.IsChecked(d.Events[i])):
			doubtful++ // what was checked by ear is right, unless something else is heard
		case !f.all:
			continue
		}
		list = append(list, judged{d.Events[i], j})
	}
	slices.SortStableFunc(list, func(a, b judged) int { return cmp.Compare(a.Confidence, b.Confidence) })
	heard := len(d.Events) - unheard
	fmt.Fprintf(
		b,
		"\nAgainst %s, %.1f cents from A4 = 440 Hz: %d of %s agree",
		f.recording,
		v.TuningCents,
		heard-doubtful,
		count(heard, "event"),
	)
	if len(list) == 0 {
		b.WriteString(".\n")
	} else {
		b.WriteString(". Worst first:\n\n")
		rows := [][]string{{"line", "time", "tab", "right", "what is heard"}}
		for _, j := range list {
			rows = append(rows, []string{fmt.Sprint(j.event.Line), tab.Clock(j.event.Start), d.EventToken(j.event),
				fmt.Sprintf("%.0f%%", 100*j.Confidence), heardText(d, j.event, j.Judgement)})
		}
		printColumns(b, rows)
	}
	if unheard > 0 {
		fmt.Fprintf(b, "\n%s outside what was heard.\n", count(unheard, "event"))
	}
	printMissed(b, v.Missed, d.Gaps())
	return nil
}

// printMissed lists what sounds surely enough and is not written, except in gaps.
func printMissed(b *bytes.Buffer, missed []tab.Event, gaps []tab.Gap) {
	rows := [][]string{{"time", "length", "tab", "sure"}}
	for _, e := range missed {
		known := slices.ContainsFunc(gaps, func(g tab.Gap) bool { return e.Start >= g.Start && e.Start < g.End })
		if e.Confidence >= tab.SureFrom && !known {
			rows = append(
				rows,
				[]string{
					tab.Clock(e.Start),
					fmt.Sprintf("%.3f", e.End-e.Start),
					tab.Token(e.Actions),
					fmt.Sprintf("%.0f%%", 100*e.Confidence),
				},
			)
		}
	}
	if len(rows) > 1 {
		b.WriteString("\nHeard, but not written:\n\n")
		printColumns(b, rows)
	}
}

// heardText says what the recording has at an event.
func heardText(d tab.Document, e tab.Event, j review.Judgement) string {
	var parts []string
	if j.Same != nil && j.Same.Doubtful() {
		if reason := d.Reason(*j.Same); reason != "" {
			parts = append(parts, reason)
		}
	}
	switch off := j.Start - e.Start; {
	case math.IsNaN(j.Start):
		parts = append(parts, "does not begin here")
	case off > review.LateSeconds:
		parts = append(parts, fmt.Sprintf("begins at %s, %.2f s after", tab.Clock(j.Start), off))
	case off < -review.LateSeconds:
		parts = append(parts, fmt.Sprintf("begins at %s, %.2f s before", tab.Clock(j.Start), -off))
	}
	sounds := fmt.Sprintf("sounds %.0f%%", 100*j.Sounds)
	if cents := centsText(j.Cents); j.Sounds >= 0.5 && cents != "" {
		sounds += ", " + cents
	}
	parts = append(parts, sounds)
	switch {
	case j.Silent:
		parts = append(parts, "silence is likelier")
	case j.Instead != nil:
		parts = append(
			parts,
			fmt.Sprintf(
				"likelier %s at %s (%.0f%%)",
				d.EventToken(*j.Instead),
				tab.Clock(j.Instead.Start),
				100*j.Instead.Confidence,
			),
		)
	}
	return strings.Join(parts, "; ")
}

// centsText is how far the reeds are off: "12 cents flat", "3 and 8 cents sharp",
// "5 cents flat and in tune".
func centsText(cents []float64) string {
	var words []string
	way, same := "", true
	for i, c := range cents {
		w := "in tune"
		switch n := math.Round(c); {
		case math.IsNaN(n):
			return ""
		case n < 0:
			w = fmt.Sprintf("%.0f cents flat", -n)
		case n > 0:
			w = fmt.Sprintf("%.0f cents sharp", n)
		}
		words = append(words, w)
		end := w[strings.LastIndex(w, " ")+1:]
		same = same && (i == 0 || end == way)
		way = end
	}
	if n := len(words) - 1; same {
		for i := range max(0, n) {
			if words[i] = strings.TrimSuffix(words[i], " cents "+way); way == "tune" {
				return "in tune"
			}
		}
	}
	return strings.Join(words, " and ")
}

// judge hears the section of the recording that the tab is about.
func (f *checkFlags) judge(c *cobra.Command, d tab.Document) (review.Verdict, error) {
	var v review.Verdict
	h := hearing{f.recording, f.channel, f.ear}
	err := h.run(
		c,
		d,
		"checking against",
		func(t *tabber.Transcriber, s *decode.Stream, from float64) (err error) {
			v, err = t.Judge(c.Context(), s, from, d.Events)
			return err
		},
	)
	return v, err
}
