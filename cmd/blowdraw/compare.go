package main

import (
	"bytes"
	"fmt"
	"math"
	"strings"

	"blowdraw/tabber/compare"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// compareFlags are what the compare command can be told.
type compareFlags struct {
	onset  float64
	align  bool
	bpm    float64
	beats  int
	scores bool

	section sectionFlags // of B, if it is a recording
}

func newCompareCommand() *cobra.Command {
	var f compareFlags
	c := &cobra.Command{
		Use:   "compare A B",
		Short: "Tell how two tabs of the same passage differ, or a tab and a recording",
		Long: `Compares tab B with tab A of the same passage: a student's with the teacher's, the
rough with the corrected, two takes. A counts as the truth.

First comes a verdict: how many events of A are right in B (the same tab, within 0.3
seconds), how many are another note, left out or added; how early or late the right
ones are on the whole; and in which bars, or phrases where A has no bars, B hurries or
drags: where it gains or loses more than --onset from the first to the last of four
notes or more. Then come the timing of the right ones and what differs, line by line.
With a tempo, from A or --bpm, timing is also told by beat, counted in bars from A's
first event.

B may also be a recording, such as a student's of what the teacher wrote. It is
transcribed for A's harp, the passage is looked for in it, at whatever tempo it is
played, and what is played before and after it counts for nothing. Being early or late
is then told against that tempo. --from, --to, --for and --channel choose what is heard.

With --scores notes are scored as usual for note tracking: right if the pitch is within
50 cents, after each recording's own tuning, and the start within 50 ms, each note used
once; with ends, if the end is within 50 ms or a fifth of the length as well.

One of the tabs may be - for standard input.`,
		Example: `  blowdraw compare teacher.tab student.tab
  blowdraw compare teacher.tab student.wav
  blowdraw compare take1.tab take2.tab --align
  blowdraw compare corrected.tab rough.tab --onset 0.1`,
		Args: twoTabs,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args[0], args[1]) },
	}
	c.Flags().Float64Var(&f.onset, "onset", 0.05, "seconds by which starts may differ")
	c.Flags().BoolVar(&f.align, "align", false, "first move B to where it fits A best")
	c.Flags().Float64Var(&f.bpm, "bpm", 0, "beats a minute, for the timing by beat (default: as A says)")
	c.Flags().IntVar(&f.beats, "beats", 4, "beats in a bar, for the timing by beat")
	c.Flags().BoolVar(&f.scores, "scores", false, "also tell precision, recall and F1")
	f.section.add(c)
	return c
}

func twoTabs(c *cobra.Command, args []string) error {
	switch {
	case len(args) != 2 || args[0] == "" || args[1] == "":
		return usage(c, "want two tabs, got %d", len(args))
	case args[0] == stdinName && args[1] == stdinName:
		return usage(c, "only one of the tabs can be standard input")
	}
	return nil
}

func (f *compareFlags) run(c *cobra.Command, pathA, pathB string) error {
	switch {
	case !(f.onset >= 0.001 && f.onset <= 1):
		return usage(c, "--onset %g: want 0.001 to 1 seconds", f.onset)
	case c.Flags().Changed("bpm") && !(f.bpm >= 1 && f.bpm <= 1000):
		return usage(c, "--bpm %g: want 1 to 1000 beats a minute", f.bpm)
	case f.beats < 1 || f.beats > 32:
		return usage(c, "--beats %d: want 1 to 32", f.beats)
	}
	a, nameA, err := readWarned(c, pathA)
	if err != nil {
		return err
	}
	sound, err := isRecording(pathB)
	if err != nil {
		return err
	}
	if sound {
		return f.take(c, a, nameA, pathB)
	}
	for _, flag := range []string{"from", "to", "for", "channel"} {
		if c.Flags().Changed(flag) {
			return usage(c, "--%s is for a recording, and B is a tab", flag)
		}
	}
	b, nameB, err := readWarned(c, pathB)
	if err != nil {
		return err
	}
	bpm := a.BPM
	if f.bpm > 0 {
		bpm = f.bpm
	}
	shift := 0.0
	if f.align {
		shift = tab.Rounded(compare.Shift(a, b, f.onset)) + 0 // to the millisecond, and no -0
	}
	d := compare.Difference(a, b, shift, f.onset)
	var out bytes.Buffer
	fmt.Fprintf(&out, "A  %s: %s, %s harp\nB  %s: %s, %s harp",
		nameA, count(len(a.Events), "event"), a.Harp.Name, nameB, count(len(b.Events), "event"), b.Harp.Name)
	if f.align {
		fmt.Fprintf(&out, ", moved by %+.3f s", shift)
	}
	out.WriteString("\n\n")
	v := d.Verdict(a, f.onset)
	printVerdict(&out, v, len(a.Events), wholeText(v.Late))
	if !f.align {
		f.printBetter(&out, a, b, d)
	}
	if f.scores {
		out.WriteString("\n")
		f.printScores(&out, d)
	}
	f.printTiming(&out, a, d, bpm)
	printDifferences(&out, a, b, a, d, shift, f.onset)
	_, err = c.OutOrStdout().Write(out.Bytes())
	return err
}

// printVerdict says in a line, or in two, how B is against the events of A, and how its
// time is on the whole.
func printVerdict(b *bytes.Buffer, v compare.Verdict, events int, whole string) {
	notes := fmt.Sprintf("%d of %d right", v.Right, events)
	var wrong []string
	if v.Other > 0 {
		wrong = append(wrong, count(v.Other, "other note"))
	}
	if v.LeftOut > 0 {
		wrong = append(wrong, fmt.Sprintf("%d left out", v.LeftOut))
	}
	if v.Added > 0 {
		wrong = append(wrong, fmt.Sprintf("%d added", v.Added))
	}
	if len(wrong) > 0 {
		notes += "; " + strings.Join(wrong, ", ")
	}
	if v.Right == 0 {
		b.WriteString(notes + ".\n")
		return
	}
	timing := strings.Join(append([]string{whole}, driftTexts(v.Drifts)...), ", ")
	if len(notes)+len(timing) > helpWidth-4 {
		b.WriteString(notes + ";\n" + timing + ".\n")
	} else {
		b.WriteString(notes + "; " + timing + ".\n")
	}
}

// wholeText is how early or late B is, "early by 40 ms on the whole".
func wholeText(seconds float64) string {
	switch ms := math.Round(1000 * seconds); {
	case ms > 0:
		return fmt.Sprintf("late by %.0f ms on the whole", ms)
	case ms < 0:
		return fmt.Sprintf("early by %.0f ms on the whole", -ms)
	}
	return "on time on the whole"
}

// driftTexts say where B hurries and where it drags: "hurries in bars 3 and 5".
func driftTexts(drifts []compare.Drift) []string {
	var hurries, drags []int
	for _, d := range drifts {
		if d.Seconds < 0 {
			hurries = append(hurries, d.Number)
		} else {
			drags = append(drags, d.Number)
		}
	}
	var out []string
	for _, w := range []struct {
		verb    string
		numbers []int
	}{{"hurries", hurries}, {"drags", drags}} {
		if len(w.numbers) == 0 {
			continue
		}
		what := "phrase"
		if drifts[0].Bar {
			what = "bar"
		}
		if len(w.numbers) > 1 {
			what += "s"
		}
		out = append(out, fmt.Sprintf("%s in %s %s", w.verb, what, listed(w.numbers)))
	}
	return out
}

// mostListed is how many numbers of bars a verdict names.
const mostListed = 6

// listed is "3", "3 and 5", "3, 5 and 8".
func listed(numbers []int) string {
	var words []string
	for _, n := range numbers[:min(len(numbers), mostListed)] {
		words = append(words, fmt.Sprint(n))
	}
	if more := len(numbers) - mostListed; more > 0 {
		words = append(words, fmt.Sprintf("%d more", more))
	}
	if len(words) == 1 {
		return words[0]
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

// printBetter says if B moved as a whole would have twice as much right.
func (f *compareFlags) printBetter(b *bytes.Buffer, a, other tab.Document, d compare.Comparison) {
	right := d.Verdict(a, f.onset).Right
	if 2*right >= len(a.Events) {
		return
	}
	shift := tab.Rounded(compare.Shift(a, other, f.onset))
	if moved := compare.Difference(a, other, shift, f.onset).Verdict(a, f.onset).Right; moved > 2*right {
		fmt.Fprintf(b, "Moved by %+.3f s it has %d right: see --align.\n", shift, moved)
	}
}

func (f *compareFlags) printScores(b *bytes.Buffer, d compare.Comparison) {
	holes := "right holes"
	if !d.SameHarp {
		holes = "same notes, as the harps differ"
	}
	rows := [][]string{{"", "precision", "recall", "F1", "right", "in A", "in B"}}
	for _, r := range []struct {
		name string
		compare.Result
	}{{"notes", d.Notes}, {"notes with ends", d.WithEnds}, {"events, " + holes, d.Holes}} {
		rows = append(rows, []string{
			r.name, fmt.Sprintf("%.3f", r.Precision), fmt.Sprintf("%.3f", r.Recall), fmt.Sprintf("%.3f", r.F),
			fmt.Sprint(r.Matched), fmt.Sprint(r.Ref), fmt.Sprint(r.Est),
		})
	}
	printColumns(b, rows)
}

// printTiming tells how B's starts lie against A's.
func (f *compareFlags) printTiming(b *bytes.Buffer, a tab.Document, d compare.Comparison, bpm float64) {
	if d.Timing.N == 0 {
		b.WriteString("\nNo events with the same tab, so nothing to say of timing.\n")
		return
	}
	fmt.Fprintf(b, "\nTiming of %s with the same tab: B is %s on average, spread %.0f ms.\n",
		count(d.Timing.N, "event"), lateText(d.Timing.Mean), 1000*d.Timing.Sdev)
	if bpm <= 0 {
		b.WriteString("A says no tempo, so there is no timing by beat; --bpm gives one.\n")
		return
	}
	rows := [][]string{{"beat", "events", "B is", "spread", "in beats"}}
	for i, s := range d.ByBeat(a, bpm, f.beats) {
		if s.N > 0 {
			rows = append(rows, []string{fmt.Sprint(i + 1), fmt.Sprint(s.N), lateText(s.Mean),
				fmt.Sprintf("%.0f ms", 1000*s.Sdev), fmt.Sprintf("%+.2f", s.Mean*bpm/60)})
		}
	}
	fmt.Fprintf(b, "By beat at %.1f bpm, %d to the bar from A's first event:\n\n", bpm, f.beats)
	printColumns(b, rows)
}

// lateText is "12 ms late", "3 ms early" or "on time".
func lateText(seconds float64) string {
	switch ms := math.Round(1000 * seconds); {
	case ms > 0:
		return fmt.Sprintf("%.0f ms late", ms)
	case ms < 0:
		return fmt.Sprintf("%.0f ms early", -ms)
	}
	return "on time"
}

// printDifferences lists what differs, in order of time. Moved is A at the times that B is
// held against.
func printDifferences(
	b *bytes.Buffer,
	docA, docB, moved tab.Document,
	d compare.Comparison,
	shift, onset float64,
) {
	rows := [][]string{{"line A", "time", "tab A", "line B", "time", "tab B", ""}}
	for _, p := range d.Pairs {
		row := []string{"", "", "", "", "", "", ""}
		if p.A >= 0 {
			e := docA.Events[p.A]
			row[0], row[1], row[2] = fmt.Sprint(e.Line), tab.Clock(e.Start), docA.EventToken(e)
		}
		if p.B >= 0 {
			e := docB.Events[p.B]
			row[4], row[5] = tab.Clock(e.Start), docB.EventToken(e)
			if e.Line > 0 { // it was read from a tab
				row[3] = fmt.Sprint(e.Line)
			}
		}
		switch {
		case p.B < 0:
			row[6] = "only in A"
		case p.A < 0:
			row[6] = "only in B"
		default:
			if row[6] = differs(moved.Events[p.A], docB.Events[p.B], p, shift, onset); row[6] == "" {
				continue
			}
		}
		rows = append(rows, row)
	}
	if len(rows) == 1 {
		b.WriteString("\nNo event differs.\n")
		return
	}
	fmt.Fprintf(b, "\n%s:\n\n", differences(len(rows)-1))
	printColumns(b, rows)
}

func differences(n int) string {
	if n == 1 {
		return "1 event differs"
	}
	return fmt.Sprintf("%d events differ", n)
}

// differs says how the events of a pair differ, and nothing if they don't.
func differs(a, b tab.Event, p compare.Pair, shift, onset float64) string {
	text := ""
	add := func(s string) {
		if text != "" {
			text += ", "
		}
		text += s
	}
	if !p.Same {
		add("other tab")
	}
	// To the millisecond, as tabs are written.
	if math.Round(1000*math.Abs(p.Late)) > math.Round(1000*onset) {
		add(lateText(p.Late))
	}
	longer := (b.End - b.Start) - (a.End - a.Start)
	most := max(onset, compare.WithOffset.OffsetRatio*(a.End-a.Start)) + 0.0005
	if math.Abs(b.End+shift-a.End) > most {
		if longer > 0 {
			add(fmt.Sprintf("%.3f s longer", longer))
		} else if longer < 0 {
			add(fmt.Sprintf("%.3f s shorter", -longer))
		}
	}
	return text
}
