package main

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"blowdraw/decode"
	"blowdraw/tabber"
	"blowdraw/tabber/study"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// studyFlags are what the study command can be told.
type studyFlags struct {
	transcribe transcribeFlags // of recordings
	recordings []string
	measure    bool
	together   bool
	format     string
	html       string
	cards      string
	toHarp     string
	position   int
	speed      float64
	force      bool
}

func newStudyCommand() *cobra.Command {
	f := studyFlags{transcribe: transcribeFlags{ear: "learned", marks: "all", format: "tab"}}
	c := &cobra.Command{
		Use:   "study TAB ... | RECORDING ...",
		Short: "Tell what a solo is made of: notes over chords, textures, time, answers, moves",
		Long: `Tells what one solo, or several by one player, are made of: which notes lean on
which chord; single notes, double stops and splits; when phrases begin and end and
how full the bars of the form are; which phrase takes up which; which moves come
back; and how it is played. Each line names the places where it is heard, by bar and
time, and what is more than chance says how likely chance is (p).

A doubtful event counts with its probability. Of fewer than 16 bars only counts are
told. It needs bars, chords and the form for most of it: see --bar-at and --form.

A tab is read, a recording heard first, for --harp or the likeliest harp; a folder
stands for the tabs in it. With two names the first is put beside the second, as two
players or teacher and student; with --together they are two solos of one player.

--html writes one page that needs no network, with pictures; it plays the places if
the recordings are given (--recording, once for each tab, or the folder they are in).
With --measure they are heard, too, to tell how deep notes are bent and how wide and
fast a vibrato is; a tab alone only says that they are.

--cards writes a folder for each move: its tab, MusicXML and MIDI, how it sounds, as
recorded and slower, the same for --to-harp or --position, and an exercise: the move
over a click, where in the form the player uses it.`,
		Example: `  blowdraw study solo.tab
  blowdraw study record.mp3 --harp A --from 1:02 --for 90 --html study.html
  blowdraw study one.tab two.tab three.tab --format csv
  blowdraw study teacher.tab student.tab
  blowdraw study solos --recording sounds --html study.html
  blowdraw study solo.tab --recording solo.wav --cards moves --to-harp D`,
		Args: someTabs,
		RunE: f.run,
	}
	f.transcribe.harp.add(c)
	f.transcribe.section.add(c)
	f.transcribe.beats.add(c)
	addSongKey(c, &f.transcribe.songKey)
	c.Flags().StringArrayVar(&f.recordings, "recording", nil,
		"the recording of a tab, once for each in their order, or the `FOLDER` that they are in")
	c.Flags().BoolVar(&f.measure, "measure", false, "with --recording: hear it, to measure how deep bends "+
		"and how wide and fast marks are")
	c.Flags().BoolVar(&f.together, "together", false, "two names are of one player, not side by side")
	c.Flags().StringVar(&f.format, "format", "text", "text, json or csv")
	c.Flags().StringVar(&f.html, "html", "", "write a page into this file")
	c.Flags().StringVar(&f.cards, "cards", "", "write a card of each move into this folder")
	c.Flags().StringVar(&f.toHarp, "to-harp", "", "with --cards: the moves for this harp, too")
	c.Flags().IntVar(&f.position, "position", 0, "with --cards: the moves in this position, 1 to 12, too")
	c.Flags().Float64Var(&f.speed, "slow", 0.6, "with --cards: how fast the slower sound is, of 1")
	c.Flags().BoolVar(&f.force, "force", false, "overwrite files")
	return c
}

// studied is one solo of a study.
type studied struct {
	name      string // of the file
	tab       tab.Document
	recording string // empty if there is none
	heard     bool   // the tab was made of the recording just now
}

// players of a study: one, or two side by side.
type players [][]studied

func (f *studyFlags) run(c *cobra.Command, args []string) error {
	if err := f.check(c, args); err != nil {
		return err
	}
	all, err := f.read(c, args)
	if err != nil {
		return err
	}
	if f.html != "" {
		if err := f.writePage(c, all); err != nil {
			return err
		}
	}
	if f.cards != "" {
		if err := f.writeCards(c, all[0]); err != nil {
			return err
		}
	}
	if (f.html != "" || f.cards != "") && !c.Flags().Changed("format") {
		return nil
	}
	var out bytes.Buffer
	if err := f.write(&out, all, widthOf(c.OutOrStdout())); err != nil {
		return err
	}
	_, err = c.OutOrStdout().Write(out.Bytes())
	return err
}

// check the flags before anything is read.
func (f *studyFlags) check(c *cobra.Command, args []string) error {
	beside := len(args) == 2 && !f.together
	switch {
	case !slices.Contains([]string{"text", "json", "csv"}, f.format):
		return usage(c, "--format %q: want text, json or csv", f.format)
	case f.measure && len(f.recordings) == 0:
		return usage(c, "--measure hears the recordings of tabs: --recording names them")
	case f.together && len(args) < 2:
		return usage(c, "--together is for several solos")
	case slices.Contains(args, stdinName) && len(args) > 1:
		return usage(c, "standard input (-) can't be one of several")
	case f.cards != "" && beside:
		return usage(c, "--cards is for one player; with --together both are one")
	case c.Flags().Changed("position") && (f.position < 1 || f.position > 12):
		return usage(c, "--position %d: want 1 to 12", f.position)
	}
	if f.cards == "" {
		for _, name := range []string{"to-harp", "position", "slow"} {
			if c.Flags().Changed(name) {
				return usage(c, "--%s is for --cards", name)
			}
		}
	}
	if err := checkSpeed(c, "--slow", f.speed); err != nil {
		return err
	}
	if f.html != "" {
		for _, name := range append(slices.Clone(args), f.recordings...) {
			if sameFile(name, f.html) {
				return usage(c, "--html %s is what is read", f.html)
			}
		}
		return checkWritable(f.html, f.force)
	}
	return nil
}

// read the solos of each player.
func (f *studyFlags) read(c *cobra.Command, args []string) (players, error) {
	var all players
	for i, arg := range args {
		paths := []string{arg}
		if info, err := os.Stat(arg); err == nil && info.IsDir() {
			found, err := tabsIn(arg)
			if err != nil {
				return nil, err
			}
			if len(found) == 0 {
				return nil, fmt.Errorf("%s: no tabs in this folder", arg)
			}
			paths = nil
			for _, below := range found {
				paths = append(paths, filepath.Join(arg, below))
			}
		}
		if i == 0 || len(args) == 2 && !f.together {
			all = append(all, nil)
		}
		for _, path := range paths {
			s, err := f.solo(c, path)
			if err != nil {
				return nil, err
			}
			all[len(all)-1] = append(all[len(all)-1], s)
		}
	}
	if err := f.findRecordings(c, all); err != nil {
		return nil, err
	}
	if f.measure {
		for _, solos := range all {
			for i := range solos {
				if err := measure(c, &solos[i]); err != nil {
					return nil, err
				}
			}
		}
	}
	return all, nil
}

// measure hears the recording of a tab, to put into it how deep and wide what it says is.
func measure(c *cobra.Command, s *studied) error {
	if s.recording == "" || s.heard {
		return nil
	}
	d := s.tab
	return hearing{recording: s.recording}.run(c, d, "listening to",
		func(t *tabber.Transcriber, sound *decode.Stream, from float64) error {
			r, err := t.Stream(c.Context(), sound, from)
			if err == nil {
				s.tab = study.Measured(d, r.Document(d.Recording, d.Harp, d.Meter, nil))
			}
			return err
		})
}

// solo reads a tab, or hears a recording.
func (f *studyFlags) solo(c *cobra.Command, path string) (studied, error) {
	var none studied
	sound, err := isRecording(path)
	if err != nil {
		return none, err
	}
	if sound {
		task, err := f.transcribe.task(c)
		if err != nil {
			return none, err
		}
		d, err := f.transcribe.document(c.Context(), c.ErrOrStderr(), path, task)
		return studied{filepath.Base(path), d, path, true}, err
	}
	for _, name := range []string{"harp", "from", "to", "for", "channel", "layout", "song-key"} {
		if c.Flags().Changed(name) {
			return none, usage(c, "--%s is for recordings, and %s is a tab%s", name, path,
				map[string]string{"harp": "; --to-harp is that of the cards"}[name])
		}
	}
	var opt tabber.Options
	if err := f.transcribe.beats.options(c, &opt); err != nil {
		return none, err
	}
	d, name, err := readWarned(c, path)
	if err != nil {
		return none, err
	}
	if f.transcribe.beats.barAt != "" || f.transcribe.beats.bpm > 0 || f.transcribe.beats.taps != "" {
		if d, err = f.transcribe.beats.lay(d, opt, name); err != nil {
			return none, err
		}
	}
	if d, err = f.inForm(c, d, name); err != nil {
		return none, err
	}
	if len(d.Events) == 0 {
		return none, fmt.Errorf("%s: nothing is played", name)
	}
	return studied{name: filepath.Base(name), tab: d}, nil
}

// inForm lays the form that --form names over a tab with bars: bar 1 begins it.
func (f *studyFlags) inForm(c *cobra.Command, d tab.Document, name string) (tab.Document, error) {
	if f.transcribe.beats.form == "" {
		return d, nil
	}
	if len(d.Bars) == 0 {
		return d, usage(c, "--form needs bars, and %s has none: --bar-at says when one begins", name)
	}
	return study.InForm(d, f.transcribe.beats.form), nil
}

// isRecording reports whether a file is sound: by how it begins, or by its name.
func isRecording(path string) (bool, error) {
	if path == stdinName {
		return false, nil
	}
	if slices.Contains(slices.Concat(directly, throughFFmpeg), strings.ToLower(filepath.Ext(path))) {
		return true, nil
	}
	file, err := os.Open(path)
	if err != nil {
		return false, cannotRead(path, err)
	}
	defer file.Close()
	return isSound(bufio.NewReader(file)), nil
}

// findRecordings names the recording of each tab, as --recording says.
func (f *studyFlags) findRecordings(c *cobra.Command, all players) error {
	if len(f.recordings) == 0 {
		return nil
	}
	var tabs []*studied
	for i := range all {
		for k := range all[i] {
			if all[i][k].recording == "" {
				tabs = append(tabs, &all[i][k])
			}
		}
	}
	folder := ""
	if info, err := os.Stat(f.recordings[0]); err == nil && info.IsDir() && len(f.recordings) == 1 {
		folder = f.recordings[0]
	}
	if folder == "" && len(f.recordings) != len(tabs) {
		return usage(c, "%s for %s: want one for each, in their order, or their folder",
			count(len(f.recordings), "recording"), count(len(tabs), "tab"))
	}
	for i, s := range tabs {
		if s.recording = filepath.Join(folder, filepath.Base(s.tab.Recording)); folder == "" {
			s.recording = f.recordings[i]
		}
		if info, err := os.Stat(s.recording); err != nil || info.IsDir() {
			if err == nil {
				err = fmt.Errorf("it is a folder")
			}
			return fmt.Errorf("the recording of %s: %w", s.name, cannotRead(s.recording, err))
		}
	}
	return nil
}

func (p players) tabs(i int) []tab.Document {
	var out []tab.Document
	for _, s := range p[i] {
		out = append(out, s.tab)
	}
	return out
}

// names of a player's solos.
func (p players) names(i int) []string {
	var out []string
	for _, s := range p[i] {
		out = append(out, s.name)
	}
	return out
}

// write the study in the format that was asked for.
func (f *studyFlags) write(b *bytes.Buffer, all players, width int) error {
	if len(all) == 2 {
		x := study.Compare(all.tabs(0), all.tabs(1))
		switch f.format {
		case "json":
			return writeStudyJSON(b, besideFile{all.names(0), all.names(1), x})
		case "csv":
			return writeDifferences(b, x.Differences)
		}
		printBeside(b, x, all.names(0), all.names(1), width)
		return nil
	}
	s := study.Of(all.tabs(0))
	switch f.format {
	case "json":
		return writeStudyJSON(b, studyFile{all.names(0), s})
	case "csv":
		return writeStudyCSV(b, s)
	}
	printStudy(b, s, all.names(0), width)
	return nil
}

// studyFile and besideFile are what is written as JSON.
type studyFile struct {
	Solos []string `json:"solos"` // names of the files
	study.Study
}

type besideFile struct {
	SolosA []string `json:"solos_a"`
	SolosB []string `json:"solos_b"`
	study.Beside
}

func writeStudyJSON(b *bytes.Buffer, value any) error {
	e := json.NewEncoder(b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(value)
}

// writeStudyCSV writes a line for each measure.
func writeStudyCSV(b io.Writer, s study.Study) error {
	w := csv.NewWriter(b)
	w.Write([]string{"part", "table", "name", "over", "value", "unit", "low", "high", "n", "expected", "p",
		"places"})
	for _, r := range study.Rows(s) {
		m := r.Measure
		var places []string
		for _, p := range m.Places {
			places = append(places, strings.TrimSpace(fmt.Sprintf("%d:%s %s", p.Solo+1, p.At, decimal(&p.From))))
		}
		w.Write([]string{r.Part, r.Table, m.Name, m.Over, decimal(&m.Value), m.Unit, decimal(m.Low),
			decimal(m.High), decimal(&m.N), decimal(m.Expected), decimal(m.P), strings.Join(places, "; ")})
	}
	w.Flush()
	return w.Error()
}

func writeDifferences(b io.Writer, list []study.Difference) error {
	w := csv.NewWriter(b)
	w.Write([]string{"part", "name", "over", "unit", "a", "b", "p"})
	for _, d := range list {
		w.Write([]string{d.Part, d.Name, d.Over, d.Unit, decimal(&d.A), decimal(&d.B), decimal(d.P)})
	}
	w.Flush()
	return w.Error()
}

func decimal(v *float64) string {
	if v == nil {
		return ""
	}
	return strconv.FormatFloat(*v, 'f', -1, 64)
}

// recordingOf a solo, one channel at that rate in Hz, in the section that its tab is about.
func recordingOf(c *cobra.Command, s studied, rate int) (from float64, samples []float64, err error) {
	opt, err := hearing{recording: s.recording}.section(c, s.tab)
	if err != nil {
		return 0, nil, err
	}
	opt.Rate = rate
	clip, _, warnings, err := decode.Load(s.recording, opt)
	if err != nil {
		return 0, nil, err
	}
	warn(c.ErrOrStderr(), s.recording, warnings)
	return opt.From, clip.Samples, nil
}
