package measure

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strings"

	"blowdraw/tabber/lab/files"
)

// Means are those of the measures of clips, and the F of their marks: a row for each, a
// column for each tier and, if there are several, one for all.
type Means struct {
	Columns []string
	Rows    []MeansRow
}

// MeansRow has a cell for each column, nil where the measure does not apply. Format is
// that of a number.
type MeansRow struct {
	Name, Format string
	Cells        []*float64
}

// MeansOf clips.
func MeansOf(clips []Clip) Means {
	tiers := tiersOf(clips)
	m := Means{Columns: tiers}
	if len(tiers) > 1 {
		m.Columns = append(m.Columns, "all")
	}
	of := func(column int) []Clip {
		if column == len(tiers) {
			return clips
		}
		return inTier(clips, tiers[column])
	}
	add := func(name, format string, cell func(clips []Clip) (float64, bool)) {
		row := MeansRow{Name: name, Format: format}
		for i := range m.Columns {
			if v, ok := cell(of(i)); ok {
				row.Cells = append(row.Cells, &v)
			} else {
				row.Cells = append(row.Cells, nil)
			}
		}
		m.Rows = append(m.Rows, row)
	}
	for _, c := range columns {
		add(c.name, c.format, func(clips []Clip) (float64, bool) { return mean(clips, c.of) })
	}
	for i, total := range marksOf(clips, "") {
		if total.Ref == 0 {
			continue
		}
		add("F "+scoredMarks[i], "%8.3f", func(clips []Clip) (float64, bool) {
			s := marksOf(clips, "")[i]
			return s.F(), s.Ref > 0
		})
	}
	return m
}

// Minus are the differences to other means, of the measures and tiers that both have.
func (m Means) Minus(old Means) Means {
	was := map[[2]string]*float64{}
	for _, r := range old.Rows {
		for i, v := range r.Cells {
			was[[2]string{r.Name, old.Columns[i]}] = v
		}
	}
	out := Means{Columns: m.Columns}
	for _, r := range m.Rows {
		row := MeansRow{Name: r.Name, Format: strings.Replace(r.Format, "%", "%+", 1)}
		for i, v := range r.Cells {
			before := was[[2]string{r.Name, m.Columns[i]}]
			if v == nil || before == nil {
				row.Cells = append(row.Cells, nil)
				continue
			}
			d := *v - *before
			row.Cells = append(row.Cells, &d)
		}
		out.Rows = append(out.Rows, row)
	}
	return out
}

// Print prints a line for each row.
func (m Means) Print(w io.Writer) {
	fmt.Fprintf(w, "%-14s", "")
	for _, name := range m.Columns {
		fmt.Fprintf(w, "%10s", name)
	}
	fmt.Fprintln(w)
	for _, r := range m.Rows {
		fmt.Fprintf(w, "%-14s", r.Name)
		for _, v := range r.Cells {
			if v == nil {
				fmt.Fprintf(w, "%10s", cell(r.Format, 0, false))
				continue
			}
			fmt.Fprintf(w, "%10s", cell(r.Format, *v, true))
		}
		fmt.Fprintln(w)
	}
}

// WriteMeans writes means as JSON.
func WriteMeans(path string, m Means) error {
	text, err := json.Marshal(m)
	if err != nil {
		return fmt.Errorf("writing %s: %w", path, err)
	}
	return files.WriteBytes(path, text)
}

// ReadMeans reads what [WriteMeans] wrote.
func ReadMeans(path string) (m Means, err error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return m, fmt.Errorf("reading means: %w", err)
	}
	if err := json.Unmarshal(text, &m); err != nil {
		return m, fmt.Errorf("reading %s: %w", path, err)
	}
	return m, nil
}
