package measure

import (
	"fmt"
	"io"
	"slices"

	"blowdraw/pitch"
	"blowdraw/tabber/lab/score"
)

// PrintTiers prints the means of tiers with a line for each measure that applies to some
// clip and a column for each tier, and then the F of each mark likewise, with the precision,
// the recall and the number of all of them.
func PrintTiers(w io.Writer, clips []Clip) {
	tiers := tiersOf(clips)
	groups := make([][]Clip, len(tiers))
	fmt.Fprintf(w, "%-14s", "")
	for i, t := range tiers {
		groups[i] = inTier(clips, t)
		fmt.Fprintf(w, "%10s", t)
	}
	if len(tiers) > 1 {
		groups = append(groups, clips)
		fmt.Fprintf(w, "%10s", "all")
	}
	fmt.Fprintf(w, "\n%-14s", "clips")
	for _, of := range groups {
		fmt.Fprintf(w, "%10d", len(of))
	}
	fmt.Fprintln(w)
	for _, c := range columns {
		if _, ok := mean(clips, c.of); !ok {
			continue
		}
		fmt.Fprintf(w, "%-14s", c.name)
		for _, of := range groups {
			v, ok := mean(of, c.of)
			fmt.Fprintf(w, "%10s", cell(c.format, v, ok))
		}
		fmt.Fprintln(w)
	}
	printMarkLines(w, clips, tiers)
}

// printMarkLines prints a line for every mark that occurs.
func printMarkLines(w io.Writer, clips []Clip, tiers []string) {
	total := marksOf(clips, "")
	if !slices.ContainsFunc(total[:], func(m score.MarkScore) bool { return m.Ref > 0 }) {
		return
	}
	fmt.Fprintf(w, "\n%-14s", "F of marks")
	columns := tiers
	if len(tiers) > 1 {
		columns = append(slices.Clone(tiers), "")
	}
	for _, t := range columns {
		if t == "" {
			t = "all"
		}
		fmt.Fprintf(w, "%10s", t)
	}
	fmt.Fprintf(w, "%10s%8s%6s\n", "precision", "recall", "of")
	for i, name := range scoredMarks {
		if total[i].Ref == 0 {
			continue
		}
		fmt.Fprintf(w, "%-14s", name)
		for _, t := range columns {
			m := marksOf(clips, t)[i]
			fmt.Fprintf(w, "%10s", cell("%8.3f", m.F(), m.Ref > 0))
		}
		found := float64(total[i].Found)
		fmt.Fprintf(w, "%10s", cell("%8.3f", found/float64(total[i].Est), total[i].Est > 0))
		fmt.Fprintf(w, "%8.3f%6d\n", found/float64(total[i].Ref), total[i].Ref)
	}
	if v := total[0]; len(v.Rate) > 0 && len(v.Extent) > 0 {
		fmt.Fprintf(w, "Vibrato is off by a median %.2f Hz, and %.0f %% of its extent.\n", pitch.Median(v.Rate),
			100*pitch.Median(v.Extent))
	}
}

// briefColumns are what is told of a folder in one line.
var briefColumns = []string{"noteF", "tabF", "phrF", "playing", "harp dB", "extra"}

// PrintFolderHead prints the head of a table with a line for each folder.
func PrintFolderHead(w io.Writer) {
	fmt.Fprintf(w, "%-20s%8s", "folder", "clips")
	for _, name := range briefColumns {
		fmt.Fprintf(w, "%8s", name)
	}
	fmt.Fprintln(w)
}

// PrintFolder prints the means over a folder's clips in one line.
func PrintFolder(w io.Writer, name string, clips []Clip) {
	fmt.Fprintf(w, "%-20s%8d", name, len(clips))
	for _, c := range columns {
		if slices.Contains(briefColumns, c.name) {
			v, ok := mean(clips, c.of)
			fmt.Fprint(w, cell(c.format, v, ok))
		}
	}
	fmt.Fprintln(w)
}
