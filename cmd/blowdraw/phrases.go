package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"

	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// phrasesFlags are what the phrases command can be told.
type phrasesFlags struct {
	bpm    float64
	format string
}

func newPhrasesCommand() *cobra.Command {
	var f phrasesFlags
	c := &cobra.Command{
		Use:   "phrases TAB",
		Short: "Show a tab's phrases and the space between them",
		Long: `Shows each phrase of a tab: when it starts, how long it is, the space after it,
how much of it sounds, how many events it has, its lowest and highest note, and
the range in semitones; then how much of the section is space. Lengths are in
beats too if the tab has a tempo or --bpm gives one.

- reads the tab from standard input.`,
		Example: `  blowdraw phrases solo.tab
  blowdraw phrases solo.tab --bpm 92 --format csv
  blowdraw transcribe solo.wav --harp A | blowdraw phrases -`,
		Args: oneTab,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args[0]) },
	}
	c.Flags().Float64Var(&f.bpm, "bpm", 0, "beats a minute (default: as the tab says)")
	c.Flags().StringVar(&f.format, "format", "table", "table, json or csv")
	return c
}

func (f *phrasesFlags) run(c *cobra.Command, path string) error {
	if c.Flags().Changed("bpm") && !(f.bpm >= 20 && f.bpm <= 400) {
		return usage(c, "--bpm %g: want 20 to 400 beats a minute", f.bpm)
	}
	write, ok := map[string]func(*bytes.Buffer, phraseTable) error{
		"table": writePhraseTable, "json": writePhraseJSON, "csv": writePhraseCSV,
	}[f.format]
	if !ok {
		return usage(c, "--format %q: want table, json or csv", f.format)
	}
	d, _, err := readWarned(c, path)
	if err != nil {
		return err
	}
	bpm := d.BPM
	if f.bpm > 0 {
		bpm = f.bpm
	}
	var out bytes.Buffer
	if err := write(&out, phraseTableOf(d, bpm)); err != nil {
		return fmt.Errorf("writing the phrases: %w", err)
	}
	_, err = c.OutOrStdout().Write(out.Bytes())
	return err
}

// phraseTable is what is shown; seconds unless said otherwise. Beats are nil
// without a tempo.
type phraseTable struct {
	Recording string      `json:"recording"`
	From      float64     `json:"from"`
	To        float64     `json:"to"`
	BPM       *float64    `json:"bpm"`
	Phrases   []phraseRow `json:"phrases"`
	Played    float64     `json:"played"` // in phrases
	Space     float64     `json:"space"`  // the rest of the section
}

type phraseRow struct {
	Start      float64  `json:"start"`
	End        float64  `json:"end"`
	Length     float64  `json:"length"`
	Beats      *float64 `json:"beats"`
	Space      float64  `json:"space"`
	SpaceBeats *float64 `json:"space_beats"`
	Sounding   float64  `json:"sounding"` // share of the length
	Events     int      `json:"events"`
	Lowest     string   `json:"lowest"`
	Highest    string   `json:"highest"`
	Semitones  int      `json:"semitones"`
}

func phraseTableOf(d tab.Document, bpm float64) phraseTable {
	beats := func(seconds float64) *float64 {
		if bpm <= 0 {
			return nil
		}
		v := rounded(seconds*bpm/60, 2)
		return &v
	}
	t := phraseTable{Recording: d.Recording, From: rounded(d.From, 3), To: rounded(d.To, 3), Phrases: []phraseRow{}}
	if bpm > 0 {
		t.BPM = &bpm
	}
	played := 0.0
	for _, p := range phrasing.Of(d) {
		length := p.End - p.Start
		played += length
		r := phraseRow{
			Start: rounded(p.Start, 3), End: rounded(p.End, 3), Length: rounded(length, 3), Beats: beats(length),
			Space: rounded(p.Space, 3), SpaceBeats: beats(p.Space), Events: p.Events,
			Lowest: tab.Token(p.Lowest), Highest: tab.Token(p.Highest), Semitones: p.Semitones,
		}
		if length > 0 {
			r.Sounding = rounded(p.Sounding/length, 3)
		}
		t.Phrases = append(t.Phrases, r)
	}
	from, to := d.From, d.To
	if n := len(t.Phrases); to <= from && n > 0 { // the tab names no section
		from, to = t.Phrases[0].Start, t.Phrases[n-1].End
	}
	t.Played, t.Space = rounded(played, 3), rounded(max(0, to-from-played), 3)
	return t
}

func rounded(v float64, decimals int) float64 {
	p := math.Pow10(decimals)
	return math.Round(v*p) / p
}

func writePhraseTable(b *bytes.Buffer, t phraseTable) error {
	if len(t.Phrases) == 0 {
		b.WriteString("No phrases: nothing is played.\n")
		return nil
	}
	head := []string{"phrase", "start", "length", "space", "sounding", "events", "lowest", "highest", "semitones"}
	if t.BPM != nil {
		head = append(head, "beats", "space in beats")
	}
	rows := [][]string{head}
	for i, p := range t.Phrases {
		r := []string{fmt.Sprint(i + 1), fineClock(p.Start), fmt.Sprintf("%.1f s", p.Length), fmt.Sprintf("%.1f s", p.Space),
			fmt.Sprintf("%.0f%%", 100*p.Sounding), fmt.Sprint(p.Events), p.Lowest, p.Highest, fmt.Sprint(p.Semitones)}
		if t.BPM != nil {
			r = append(r, fmt.Sprintf("%.1f", *p.Beats), fmt.Sprintf("%.1f", *p.SpaceBeats))
		}
		rows = append(rows, r)
	}
	printColumns(b, rows)
	if all := t.Played + t.Space; all > 0 {
		fmt.Fprintf(b, "\n%s, %.1f s; space %.1f s, %.0f%% of the section", count(len(t.Phrases), "phrase"), t.Played, t.Space, 100*t.Space/all)
	}
	if t.BPM != nil {
		fmt.Fprintf(b, "; beats at %.1f bpm", *t.BPM)
	}
	b.WriteString(".\n")
	return nil
}

func writePhraseJSON(b *bytes.Buffer, t phraseTable) error {
	e := json.NewEncoder(b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(t)
}

func writePhraseCSV(b *bytes.Buffer, t phraseTable) error {
	w := csv.NewWriter(b)
	w.Write([]string{"phrase", "start", "end", "length", "beats", "space", "space_beats", "sounding", "events", "lowest", "highest", "semitones"})
	number := func(v *float64) string {
		if v == nil {
			return ""
		}
		return fmt.Sprint(*v)
	}
	for i, p := range t.Phrases {
		w.Write([]string{fmt.Sprint(i + 1), fmt.Sprint(p.Start), fmt.Sprint(p.End), fmt.Sprint(p.Length), number(p.Beats), fmt.Sprint(p.Space),
			number(p.SpaceBeats), fmt.Sprint(p.Sounding), fmt.Sprint(p.Events), p.Lowest, p.Highest, fmt.Sprint(p.Semitones)})
	}
	w.Flush()
	return w.Error()
}
