package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"blowdraw/decode"
	"blowdraw/tabber"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/study/wording"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// phrasesFlags are what the phrases command can be told.
type phrasesFlags struct {
	harp    harpFlags
	section sectionFlags
	beats   beatFlags
	many    manyFlags
	songKey string
	format  string
	svg     string
	force   bool
}

func newPhrasesCommand() *cobra.Command {
	var f phrasesFlags
	c := &cobra.Command{
		Use:   "phrases TAB ... | RECORDING ... --harp KEY",
		Short: "Show the phrases of tabs or recordings and the space between them",
		Long: `Shows each phrase: when it starts, how long it is, the space after it, how much
of it sounds, how many events it has, its lowest and highest note, and the range
in semitones; then how much of the section is space. With a tempo lengths are in
beats too. With bars each phrase says where it begins and ends, over which chords
it lies, and how its notes sit against them, and a picture shows bar by bar what
is played and what is left open. At the end: what comes back, on the same holes or
the same degrees, with its ornaments or rhythm changed or not.

With --harp it listens to a recording; without, it reads a tab, - from standard
input. A player alone does not tell where bars begin: --bar-at names the time of a
first beat, for a tab as for a recording, at the tempo found, with --bpm another, or
with --taps at beats that you tapped along.

Of several, or of a folder with the tabs (with --harp, the recordings) in it, each
gets a file of its own, solo.phrases.txt, .json or .csv: beside it, or with --dir in
another folder. A second run passes over those of which nothing has changed. What
fails is told at the end.`,
		Example: `  blowdraw phrases solo.tab
  blowdraw phrases solo.tab --bar-at 0:00.9 --bpm 92
  blowdraw phrases record.mp3 --harp A --from 1:02 --for 40 --svg chorus.svg
  blowdraw phrases tabs --dir phrases --format csv
  blowdraw transcribe solo.wav --harp A | blowdraw phrases -`,
		Args: someTabs,
		RunE: f.run,
	}
	f.harp.add(c)
	f.section.add(c)
	f.beats.add(c)
	f.many.add(c, "table", "files")
	c.Flags().StringVar(&f.songKey, "song-key", "",
		"key of the song (default: what is heard if that is likely, else second position)")
	c.Flags().StringVar(&f.format, "format", "table", "table, json or csv")
	c.Flags().StringVar(&f.svg, "svg", "", "also draw the picture into this file")
	c.Flags().BoolVar(&f.force, "force", false, "overwrite the file")
	return c
}

func someTabs(c *cobra.Command, args []string) error {
	if len(args) == 0 || slices.Contains(args, "") {
		return usage(c, "want a tab, or with --harp a recording; - is standard input")
	}
	return nil
}

// phrasesTask is what the flags ask for of each tab or recording.
type phrasesTask struct {
	harp    *harp.Harp // nil: read a tab
	minor   bool       // the song is in minor; its tonic is in opt
	section decode.Options
	opt     tabber.Options
	write   func(*bytes.Buffer, phraseTable) error
	width   int // of the terminal in characters, 0 if there is none
}

func (f *phrasesFlags) run(c *cobra.Command, args []string) error {
	t, err := f.task(c)
	if err != nil {
		return err
	}
	if err := f.many.check(c, args, "svg"); err != nil {
		return err
	}
	if f.many.many(args) {
		return f.batch(c, t).run(c, args)
	}
	if f.svg != "" {
		if err := checkWritable(f.svg, f.force); err != nil {
			return err
		}
	}
	t.width = widthOf(c.OutOrStdout())
	out, d, err := f.show(c, c.ErrOrStderr(), args[0], t)
	if err != nil {
		return err
	}
	if f.svg != "" {
		draw := func(w io.Writer) error { return phrasing.WriteSVG(w, d) }
		if err := writeFile(f.svg, f.force, draw); err != nil {
			return err
		}
	}
	_, err = c.OutOrStdout().Write(out)
	return err
}

// batch shows the phrases of several tabs or recordings.
func (f *phrasesFlags) batch(c *cobra.Command, t phrasesTask) *batch {
	b := &batch{
		manyFlags: &f.many, force: f.force,
		thing: "tab", product: "table", extension: ".phrases." + f.format,
		columns: []string{"phrases", "length", "space"}, list: tabsIn,
	}
	if f.format == "table" {
		b.extension = ".phrases.txt"
	}
	if t.harp != nil {
		b.thing, b.list = "recording", recordingsIn
	}
	b.make = func(ctx context.Context, stderr io.Writer, path string) ([]byte, []string, error) {
		out, d, err := f.show(c, stderr, path, t)
		table := phraseTableOf(d)
		played := fmt.Sprintf("%.1f s", table.Played)
		return out, []string{fmt.Sprint(len(table.Phrases)), played, spaceShare(table)}, err
	}
	return b
}

// show is what is printed of a tab or a recording, and its tab.
func (f *phrasesFlags) show(c *cobra.Command, stderr io.Writer, path string,
	t phrasesTask) ([]byte, tab.Document, error) {
	d, err := f.document(c, stderr, path, t)
	if err != nil {
		return nil, d, err
	}
	if t.harp == nil {
		if d, err = f.beats.lay(d, t.opt, path); err != nil {
			return nil, d, err
		}
	}
	var out bytes.Buffer
	table := phraseTableOf(d)
	table.width, table.strip = t.width, phrasing.Strip(d, t.width)
	if err := t.write(&out, table); err != nil {
		return nil, d, fmt.Errorf("writing the phrases: %w", err)
	}
	return out.Bytes(), d, nil
}

// task checks the flags.
func (f *phrasesFlags) task(c *cobra.Command) (phrasesTask, error) {
	var t phrasesTask
	var ok bool
	t.write, ok = map[string]func(*bytes.Buffer, phraseTable) error{
		"table": writePhraseTable, "json": writePhraseJSON, "csv": writePhraseCSV,
	}[f.format]
	if !ok {
		return t, usage(c, "--format %q: want table, json or csv", f.format)
	}
	if err := f.beats.options(c, &t.opt); err != nil {
		return t, err
	}
	if f.harp.key == "" {
		for _, name := range []string{"from", "to", "for", "channel", "layout", "song-key", "form"} {
			if c.Flags().Changed(name) {
				return t, usage(c, "--%s is for recordings, which need --harp", name)
			}
		}
		return t, f.beats.forTab(c, t.opt)
	}
	h, err := f.harp.parse(c)
	if err != nil {
		return t, err
	}
	if t.harp, t.opt.HearKey = &h, f.songKey == ""; f.songKey != "" {
		var key int
		if key, t.minor, err = songKey(c, f.songKey, h); err != nil {
			return t, err
		}
		t.opt.SongKey = &key
	}
	t.section, err = f.section.options(c)
	return t, err
}

// document reads a tab, or with --harp transcribes a recording.
func (f *phrasesFlags) document(c *cobra.Command, stderr io.Writer, path string,
	t phrasesTask) (tab.Document, error) {
	if t.harp == nil {
		d, name, mistakes, err := readTab(c, path)
		tellMistakes(stderr, name, mistakes)
		return d, err
	}
	d, err := transcribe(c.Context(), stderr, path, *t.harp, t.section, t.opt)
	if d.Minor = t.minor; t.opt.SongKey != nil {
		d.SongKey, d.SongAssumed = *t.opt.SongKey, false
	}
	return d, err
}

// phraseTable is what is shown; seconds unless said otherwise. Beats are nil
// without a tempo, places and chords empty without bars.
type phraseTable struct {
	Recording string      `json:"recording"`
	From      float64     `json:"from"`
	To        float64     `json:"to"`
	BPM       *float64    `json:"bpm"`
	Form      string      `json:"form"`
	Phrases   []phraseRow `json:"phrases"`
	Played    float64     `json:"played"` // in phrases
	Space     float64     `json:"space"`  // the rest of the section
	Recurring []motifRow  `json:"recurring"`
	Gaps      []gapRow    `json:"gaps"`

	strip string
	width int // to print in, 0: any
}

// gapRow is a stretch where no harp plays.
type gapRow struct {
	Start   float64 `json:"start"`
	End     float64 `json:"end"`
	Voice   bool    `json:"voice"` // probably
	LeftOut int     `json:"left_out"`
}

type phraseRow struct {
	Start      float64   `json:"start"`
	End        float64   `json:"end"`
	Length     float64   `json:"length"`
	Beats      *float64  `json:"beats"`
	Space      float64   `json:"space"`
	SpaceBeats *float64  `json:"space_beats"`
	Sounding   float64   `json:"sounding"` // share of the length
	Events     int       `json:"events"`
	Lowest     string    `json:"lowest"`
	Highest    string    `json:"highest"`
	Semitones  int       `json:"semitones"`
	StartPlace string    `json:"start_place"` // bar and beat
	EndPlace   string    `json:"end_place"`
	Chords     []string  `json:"chords"` // under it, in order
	Notes      []noteRow `json:"notes"`  // against the chords
}

// noteRow is an event over a chord.
type noteRow struct {
	Place   string   `json:"place"`
	Tab     string   `json:"tab"`
	Chord   string   `json:"chord"`
	Degrees []string `json:"degrees"` // over the chord's root
}

// motifRow is something that comes back.
type motifRow struct {
	SameHoles bool        `json:"same_holes"`
	Chance    float64     `json:"chance"` // how many such are expected by chance in as long a solo
	Times     []motifTime `json:"times"`
}

type motifTime struct {
	Start float64 `json:"start"`
	Place string  `json:"place"`
	Tab   string  `json:"tab"`
}

func phraseTableOf(d tab.Document) phraseTable {
	t := phraseTable{
		Recording: d.Recording, From: rounded(d.From, 3), To: rounded(d.To, 3), Form: d.Form,
		Phrases: []phraseRow{}, Recurring: motifs(d), Gaps: []gapRow{},
	}
	for _, g := range d.Gaps() {
		t.Gaps = append(t.Gaps, gapRow(g))
	}
	if d.BPM > 0 {
		t.BPM = &d.BPM
	}
	played := 0.0
	for _, p := range phrasing.Of(d) {
		played += p.End - p.Start
		t.Phrases = append(t.Phrases, phraseRowOf(d, p))
	}
	from, to := d.From, d.To
	if n := len(t.Phrases); to <= from && n > 0 { // the tab names no section
		from, to = t.Phrases[0].Start, t.Phrases[n-1].End
	}
	t.Played, t.Space = rounded(played, 3), rounded(max(0, to-from-played), 3)
	return t
}

func phraseRowOf(d tab.Document, p phrasing.Phrase) phraseRow {
	length := p.End - p.Start
	r := phraseRow{
		Start: rounded(p.Start, 3), End: rounded(p.End, 3), Length: rounded(length, 3),
		Beats: beatsBetween(d, p.Start, p.End), Space: rounded(p.Space, 3),
		SpaceBeats: beatsBetween(d, p.End, p.End+p.Space), Events: p.Events,
		Lowest: tab.Token(p.Lowest), Highest: tab.Token(p.Highest), Semitones: p.Semitones,
		StartPlace: d.PlaceText(p.Start), EndPlace: d.PlaceText(p.End),
		Chords: []string{}, Notes: []noteRow{},
	}
	if length > 0 {
		r.Sounding = rounded(p.Sounding/length, 3)
	}
	for _, e := range d.Events {
		if e.Start < p.Start || e.Start >= p.End {
			continue
		}
		n := noteRow{d.EventPlace(e), tab.Token(e.Actions), d.ChordUnder(e), d.ChordDegrees(e)}
		if n.Chord == "" {
			continue
		}
		r.Notes = append(r.Notes, n)
		if k := len(r.Chords); k == 0 || r.Chords[k-1] != n.Chord {
			r.Chords = append(r.Chords, n.Chord)
		}
	}
	return r
}

// beatsBetween two times, nil without a tempo.
func beatsBetween(d tab.Document, from, to float64) *float64 {
	a, okA := d.BeatAt(from)
	b, okB := d.BeatAt(to)
	if !okA || !okB {
		return nil
	}
	v := rounded(b-a, 2)
	return &v
}

// motifs are what comes back in a tab.
func motifs(d tab.Document) []motifRow {
	out := []motifRow{}
	for _, m := range phrasing.Recurring(d) {
		r := motifRow{SameHoles: m.SameHoles, Chance: significant(m.Chance)}
		for _, s := range m.Times {
			var tokens []string
			for _, e := range d.Events[s[0]:s[1]] {
				tokens = append(tokens, tab.Token(e.Actions))
			}
			start := d.Events[s[0]].Start
			at := motifTime{rounded(start, 3), d.PlaceText(start), strings.Join(tokens, " ")}
			r.Times = append(r.Times, at)
		}
		out = append(out, r)
	}
	return out
}

func rounded(v float64, decimals int) float64 {
	p := math.Pow10(decimals)
	return math.Round(v*p) / p
}

// significant is a number with two digits.
func significant(v float64) float64 {
	r, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 2, 64), 64)
	return r
}

func writePhraseTable(b *bytes.Buffer, t phraseTable) error {
	if len(t.Phrases) == 0 {
		b.WriteString("No phrases: nothing is played.\n")
		return nil
	}
	barred := t.Phrases[0].StartPlace != ""
	head := []string{"phrase", "start", "length", "space"}
	if t.BPM != nil {
		head = append(head, "beats", "space in beats")
	}
	if barred {
		head = append(head, "from", "to")
	}
	chords := slices.ContainsFunc(t.Phrases, func(p phraseRow) bool { return len(p.Chords) > 0 })
	if chords {
		head = append(head, "over")
	}
	part := len(head)
	rows := [][]string{append(head, "sounding", "events", "lowest", "highest", "semitones")}
	for i, p := range t.Phrases {
		r := []string{
			fmt.Sprint(i + 1), tab.Clock(p.Start),
			fmt.Sprintf("%.1f s", p.Length), fmt.Sprintf("%.1f s", p.Space),
		}
		if t.BPM != nil {
			r = append(r, beatText(p.Beats), beatText(p.SpaceBeats))
		}
		if barred {
			r = append(r, p.StartPlace, p.EndPlace)
		}
		if chords {
			r = append(r, strings.Join(p.Chords, " "))
		}
		rows = append(rows, append(r, fmt.Sprintf("%.0f%%", 100*p.Sounding), fmt.Sprint(p.Events),
			p.Lowest, p.Highest, fmt.Sprint(p.Semitones)))
	}
	printColumnsWithin(b, rows, part, t.width)
	printTotals(b, t)
	for _, g := range t.Gaps {
		b.WriteString(tab.Gap(g).String() + ".\n")
	}
	b.WriteString("\n" + t.strip)
	if !barred && t.BPM != nil {
		at := tab.Clock(t.Phrases[0].Start)
		hint := fmt.Sprintf("No bars: if one begins with the first note, --bar-at %s lays them, or the line "+
			"bar 1 %s above it in the tab.", at, at)
		b.WriteString("\n" + strings.Join(wrapped(hint, t.width), "\n") + "\n")
	}
	printAgainst(b, t)
	printMotifs(b, t)
	return nil
}

func beatText(beats *float64) string {
	if beats == nil {
		return ""
	}
	return fmt.Sprintf("%.1f", *beats)
}

// spaceShare is how much of the section is space; empty if it has no length.
func spaceShare(t phraseTable) string {
	all := t.Played + t.Space
	if all <= 0 {
		return ""
	}
	return fmt.Sprintf("%.0f%%", 100*t.Space/all)
}

func printTotals(b *bytes.Buffer, t phraseTable) {
	var parts []string
	if share := spaceShare(t); share != "" {
		parts = append(parts, fmt.Sprintf("%s, %.1f s; space %.1f s, %s of the section",
			count(len(t.Phrases), "phrase"), t.Played, t.Space, share))
	}
	if t.BPM != nil {
		parts = append(parts, fmt.Sprintf("beats at %.1f bpm", *t.BPM))
	}
	if t.Form != "" {
		parts = append(parts, t.Form+" form")
	}
	if len(parts) > 0 {
		b.WriteString("\n" + strings.Join(wrapped(strings.Join(parts, "; ")+".", t.width), "\n") + "\n")
	}
}

// degreeWords are the degrees over a chord in words.
var degreeWords = strings.NewReplacer("b", "flat ", "#", "sharp ", "1", "root", "2", "second", "3", "third",
	"4", "fourth", "5", "fifth", "6", "sixth", "7", "seventh")

// printAgainst tells how the notes sit against the chords.
func printAgainst(b *bytes.Buffer, t phraseTable) {
	for i, p := range t.Phrases {
		if len(p.Notes) == 0 {
			continue
		}
		fmt.Fprintf(b, "\nPhrase %d against the chords:\n", i+1)
		var rows [][]string
		for _, n := range p.Notes {
			degrees := degreeWords.Replace(strings.Join(n.Degrees, ", "))
			rows = append(rows, []string{n.Place, n.Chord, n.Tab, degrees})
		}
		printColumns(b, rows)
	}
}

// printMotifs tells what comes back.
func printMotifs(b *bytes.Buffer, t phraseTable) {
	for _, m := range t.Recurring {
		holes := "on the same degrees"
		if m.SameHoles {
			holes = "on the same holes"
		}
		title := fmt.Sprintf("Comes back %s, %d times (by chance in %s):",
			holes, len(m.Times), wording.OneIn(m.Chance, "solo"))
		b.WriteString("\n" + strings.Join(wrapped(title, t.width), "\n") + "\n")
		var rows [][]string
		place := 0
		for _, x := range m.Times {
			place = max(place, len(x.Place))
		}
		for _, x := range m.Times {
			room := max(0, t.width-len(tab.Clock(x.Start))-place-2*columnGap)
			for i, line := range wrapped(x.Tab, room) {
				row := []string{tab.Clock(x.Start), x.Place, line}
				if i > 0 {
					row[0], row[1] = "", ""
				}
				rows = append(rows, row)
			}
		}
		printColumns(b, rows)
	}
}

func writePhraseJSON(b *bytes.Buffer, t phraseTable) error {
	e := json.NewEncoder(b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(t)
}

func writePhraseCSV(b *bytes.Buffer, t phraseTable) error {
	w := csv.NewWriter(b)
	w.Write([]string{"phrase", "start", "end", "length", "beats", "space", "space_beats", "sounding",
		"events", "lowest", "highest", "semitones", "start_place", "end_place", "chords"})
	number := func(v *float64) string {
		if v == nil {
			return ""
		}
		return fmt.Sprint(*v)
	}
	for i, p := range t.Phrases {
		w.Write([]string{
			fmt.Sprint(i + 1), fmt.Sprint(p.Start), fmt.Sprint(p.End), fmt.Sprint(p.Length), number(p.Beats),
			fmt.Sprint(p.Space), number(p.SpaceBeats), fmt.Sprint(p.Sounding), fmt.Sprint(p.Events),
			p.Lowest, p.Highest, fmt.Sprint(p.Semitones),
			p.StartPlace, p.EndPlace, strings.Join(p.Chords, " "),
		})
	}
	w.Flush()
	return w.Error()
}
