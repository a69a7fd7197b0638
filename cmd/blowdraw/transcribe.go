package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"blowdraw/decode"
	"blowdraw/tabber"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/playing"
	"blowdraw/tabber/tab"
	"blowdraw/tabber/whichharp"

	"github.com/spf13/cobra"
)

// transcribeFlags are what the transcribe command can be told.
type transcribeFlags struct {
	harp      harpFlags
	section   sectionFlags
	beats     beatFlags
	many      manyFlags
	songKey   string
	tuning    float64
	overbends bool
	blow3     bool
	keepVoice bool
	find      bool
	ear       string
	marks     string
	format    string
	output    string
	force     bool
}

func newTranscribeCommand() *cobra.Command {
	var f transcribeFlags
	c := &cobra.Command{
		Use:   "transcribe RECORDING ...",
		Short: "Write tab from a section of a recording, or from many recordings",
		Long: `Listens to a section of a recording and writes the likeliest tab for the harp,
one event a line, with what it is unsure of and the alternatives. Without --harp
it takes the likeliest harp, as blowdraw harps does, and says so.

Reads WAV, MP3, FLAC and Ogg Vorbis; anything else through ffmpeg if it is
installed. Times count from the start of the recording.

Stretches where no harp plays, and those where probably somebody sings or speaks,
are left out and named in comment lines.

Of several recordings, or a folder with what is in it, each gets a tab of its own:
beside it, or with --dir in another folder. A second run passes over those whose
recording, flags and program are still the same. A tab that you have edited is
never overwritten without --force. What fails is told at the end.`,
		Example: `  blowdraw transcribe solo.wav --harp A
  blowdraw transcribe record.mp3 --harp "low F" --from 1:23.4 --for 20 -o solo.tab
  blowdraw transcribe take.flac --harp D --layout country --format json
  blowdraw transcribe side-one.mp3 --harp A --find
  blowdraw transcribe lessons take.wav --harp A --dir tabs`,
		Args: someRecordings,
		RunE: f.run,
	}
	f.harp.add(c)
	f.section.add(c)
	channel := c.Flags().Lookup("channel")
	channel.Usage = "what to hear of a stereo recording: auto, mix, left, right, side, " +
		"or one less a share of the other, as left-0.25right"
	channel.DefValue, f.section.channel = auto, auto
	f.beats.add(c)
	f.many.add(c, "tab", "recordings")
	addSongKey(c, &f.songKey)
	c.Flags().Float64Var(&f.tuning, "tuning", 0, "cents the recording is off A4 = 440 Hz (default: measured)")
	c.Flags().BoolVar(&f.overbends, "overbends", false, "allow overblows and overdraws")
	c.Flags().BoolVar(&f.blow3, "blow-3", false,
		"decide between draw 2 and blow 3 from what is around (first-position playing); otherwise draw 2")
	c.Flags().BoolVar(&f.keepVoice, "keep-voice", false, "write what is probably a voice as well")
	c.Flags().BoolVar(&f.find, "find", false, "only list where the harp plays")
	c.Flags().StringVar(&f.ear, "ear", "learned", "how to listen: learned, or classical (single notes only)")
	c.Flags().
		StringVar(&f.marks, "marks", "main", "how it is played: none, main or all marks (see blowdraw marks)")
	c.Flags().StringVar(&f.format, "format", "tab", "tab, json or csv")
	c.Flags().StringVarP(&f.output, "output", "o", "", "write to this file instead of the screen")
	c.Flags().BoolVar(&f.force, "force", false, "overwrite the file")
	return c
}

func oneRecording(c *cobra.Command, args []string) error {
	if len(args) != 1 {
		return usage(c, "want one recording, got %d", len(args))
	}
	return someRecordings(c, args)
}

func someRecordings(c *cobra.Command, args []string) error {
	if len(args) == 0 {
		return usage(c, "want a recording")
	}
	if slices.Contains(args, "") {
		return usage(c, "the name of the recording is empty")
	}
	return nil
}

// task is what the flags ask for of each recording.
type task struct {
	harp    *harp.Harp // nil: the likeliest
	songKey *int       // if it is given, and the harp
	minor   bool       // the song is in minor
	search  whichharp.Options
	section decode.Options
	choose  bool // the channel
	opt     tabber.Options
	write   func(io.Writer, tab.Document) error
}

func (f *transcribeFlags) run(c *cobra.Command, args []string) error {
	t, err := f.task(c)
	if err != nil {
		return err
	}
	if err := f.many.check(c, args, "output", "find"); err != nil {
		return err
	}
	if f.many.many(args) {
		return f.batch(t).run(c, args)
	}
	frugal(1)
	path := args[0]
	if c.Flags().Changed("output") {
		if err := checkOutput(c, f.output, f.force, path); err != nil {
			return err
		}
	}
	if f.find {
		return f.listStretches(c, path, t)
	}
	d, err := f.document(c.Context(), c.ErrOrStderr(), path, t)
	if err != nil {
		return err
	}
	if f.output != "" {
		return writeFile(f.output, f.force, func(w io.Writer) error { return t.write(w, d) })
	}
	return t.write(c.OutOrStdout(), d)
}

// batch transcribes several recordings.
func (f *transcribeFlags) batch(t task) *batch {
	return &batch{
		manyFlags: &f.many, force: f.force,
		thing: "recording", product: "tab", extension: "." + f.format,
		columns: []string{"harp", "notes", "sure"}, list: recordingsIn,
		make: func(ctx context.Context, stderr io.Writer, path string) ([]byte, []string, error) {
			d, err := f.document(ctx, stderr, path, t)
			if err != nil {
				return nil, nil, err
			}
			var b bytes.Buffer
			if err := t.write(&b, d); err != nil {
				return nil, nil, fmt.Errorf("writing the tab of %s: %w", path, err)
			}
			return b.Bytes(), tally(d), nil
		},
	}
}

// tally is the harp of a tab, how many notes it has, and the share of them that is
// not in doubt.
func tally(d tab.Document) []string {
	sure := 0
	for _, e := range d.Events {
		if !e.Doubtful() {
			sure++
		}
	}
	n := len(d.Events)
	return []string{harpName(d.Harp), fmt.Sprint(n), fmt.Sprintf("%.0f%%", 100*float64(sure)/float64(n))}
}

// task checks the flags.
func (f *transcribeFlags) task(c *cobra.Command) (task, error) {
	t := task{opt: tabber.Options{Overbends: f.overbends, Blow3: f.blow3, KeepVoice: f.keepVoice, Ear: f.ear}}
	var err error
	if t.write, err = writerFor(c, f.format); err != nil {
		return t, err
	}
	if err := f.harpAndKey(c, &t); err != nil {
		return t, err
	}
	section := f.section
	if t.choose = section.channel == auto; t.choose {
		section.channel = ""
	}
	if t.section, err = section.options(c); err != nil {
		return t, err
	}
	if c.Flags().Changed("tuning") {
		if !(f.tuning >= -100 && f.tuning <= 100) {
			return t, usage(c, "--tuning %g: want -100 to 100 cents", f.tuning)
		}
		t.opt.Tuning = &f.tuning
	}
	if err := f.beats.options(c, &t.opt); err != nil {
		return t, err
	}
	if err := tab.MarksShown(nil, f.marks); err != nil {
		return t, usage(c, "--marks %w", err)
	}
	return t, checkEar(c, f.ear)
}

// harpAndKey puts those of the flags into the task, or without --harp what is
// known of them.
func (f *transcribeFlags) harpAndKey(c *cobra.Command, t *task) error {
	if f.harp.key == "" {
		layout := ""
		if c.Flags().Changed("layout") {
			layout = f.harp.layout
		}
		var err error
		_, t.minor, _ = harp.ParseSongKey(f.songKey) // a wrong one is told next
		t.search, err = searchOptions(c, f.songKey, layout)
		return err
	}
	h, err := f.harp.parse(c)
	if err != nil {
		return err
	}
	t.harp = &h
	if f.songKey != "" {
		var key int
		key, t.minor, err = songKey(c, f.songKey, h)
		t.songKey = &key
	}
	return err
}

// complete puts the key of the song, and the channel if it is to be chosen, into the
// task for one recording, and returns the harp. If harp and key are the likeliest
// by the sound, said tells so.
func (t *task) complete(
	ctx context.Context,
	stderr io.Writer,
	path string,
) (h harp.Harp, said string, err error) {
	if t.harp != nil {
		h, t.opt.SongKey = *t.harp, t.songKey
	} else {
		var key int
		if h, key, said, err = heardHarp(ctx, stderr, path, t.section, t.search); err != nil {
			return h, "", err
		}
		t.opt.SongKey = &key
	}
	t.opt.HearKey = t.opt.SongKey == nil
	if t.choose {
		t.section.Channel, err = bestChannel(ctx, stderr, path, h, t.section, t.opt)
	}
	return h, said, err
}

// document is the tab of a recording as the flags ask for it.
func (f *transcribeFlags) document(
	ctx context.Context,
	stderr io.Writer,
	path string,
	t task,
) (tab.Document, error) {
	h, said, err := t.complete(ctx, stderr, path)
	if err != nil {
		return tab.Document{}, err
	}
	d, err := transcribe(ctx, stderr, path, h, t.section, t.opt)
	if err != nil {
		return d, err
	}
	if said == "" {
		said = betterHarp(ctx, stderr, path, t.section, d)
	}
	if said != "" {
		warn(stderr, path, []string{said})
		d.Notes = append([]string{said}, d.Notes...)
	}
	if how := playing.UsualJoin(d.Events); how != "" && f.marks != "none" {
		d.Notes = append(d.Notes, tab.JoinNote(how))
	}
	d.Minor, d.Channel, d.Ear = t.minor, t.section.Channel.String(), f.ear
	if key := t.opt.SongKey; key != nil {
		d.SongKey, d.SongAssumed = *key, false
	}
	return d, tab.MarksShown(d.Events, f.marks)
}

// addSongKey adds the flag that songKey reads.
func addSongKey(c *cobra.Command, key *string) {
	c.Flags().StringVar(key, "song-key", "",
		"key of the song, such as G or Gm (default: what is heard if that is likely, else second position)")
}

// songKey is the key that --song-key names, or the major one of second position.
func songKey(c *cobra.Command, name string, h harp.Harp) (key int, minor bool, err error) {
	if name == "" {
		return harp.SongKey(h.Key(), 2), false, nil
	}
	key, minor, err = harp.ParseSongKey(name)
	if err != nil {
		return 0, false, usage(c, "--song-key: %w", err)
	}
	return key, minor, nil
}

// checkOutput before the work: a file that can be written and is not the
// recording itself.
func checkOutput(c *cobra.Command, output string, force bool, recording string) error {
	if output == "" {
		return usage(c, "--output: the name is empty")
	}
	if sameFile(recording, output) {
		return usage(c, "--output %s is the recording", output)
	}
	return checkWritable(output, force)
}

func checkEar(c *cobra.Command, ear string) error {
	if ear != "learned" && ear != "classical" {
		return usage(c, "--ear %q: want learned or classical", ear)
	}
	return nil
}

// silentError is a section in which no notes were found.
type silentError struct {
	path     string
	from, to float64
}

func (e *silentError) Error() string {
	return fmt.Sprintf("%s: no notes found between %s and %s", e.path, decode.Clock(e.from), decode.Clock(e.to))
}

// writerFor a format.
func writerFor(c *cobra.Command, format string) (func(io.Writer, tab.Document) error, error) {
	switch format {
	case "tab":
		return tab.WriteText, nil
	case "json":
		return tab.WriteJSON, nil
	case "csv":
		return tab.WriteCSV, nil
	}
	return nil, usage(c, "--format %q: want tab, json or csv", format)
}

// transcribe a section of a recording; warnings and progress go to stderr.
func transcribe(
	ctx context.Context, stderr io.Writer, path string, h harp.Harp, section decode.Options, opt tabber.Options,
) (tab.Document, error) {
	return transcribeAs(ctx, stderr, path, path, h, section, opt)
}

// transcribeAs is transcribe for a file that the reader knows by another name.
func transcribeAs(
	ctx context.Context, stderr io.Writer, path, name string, h harp.Harp, section decode.Options,
	opt tabber.Options,
) (tab.Document, error) {
	r, warnings, err := listen(ctx, stderr, path, name, h, section, opt)
	if err != nil {
		return tab.Document{}, err
	}
	return r.Document(filepath.Base(name), h, opt.Meter, append(warnings, tempoNote(r)...)), nil
}

// listen hears a section of the file at a path, and says on stderr, by the name that
// the reader knows, what is odd about it.
func listen(
	ctx context.Context, stderr io.Writer, path, name string, h harp.Harp, section decode.Options,
	opt tabber.Options,
) (tabber.Result, []string, error) {
	var none tabber.Result
	s, err := decode.Open(path, section)
	if err != nil {
		return none, nil, err
	}
	defer s.Close()
	to := section.To
	if d := s.Info().Duration; d > 0 && (to <= 0 || to > d) {
		to = d
	}
	bar := newProgress(stderr, "transcribing", to-section.From)
	defer bar.done()
	opt.Progress = bar.at
	t, err := tabber.NewTranscriber(h, opt)
	if err != nil {
		return none, nil, err
	}
	r, err := t.Stream(ctx, s, section.From)
	bar.done()
	if err != nil {
		return none, nil, fmt.Errorf("transcribing %s: %w", name, err)
	}
	warnings := s.Warnings()
	if len(r.Events) == 0 {
		warn(stderr, name, warnings)
		return none, nil, &silentError{name, r.From, r.To}
	}
	if w := r.WrongHarp(h); w != "" {
		warnings = append(warnings, w)
	}
	if remarks := r.Remarks(); len(remarks) > 0 {
		warnings = append(warnings, strings.Join(remarks, "; "))
	}
	warn(stderr, name, append(warnings, leftOut(r)...))
	return r, warnings, nil
}

func warn(stderr io.Writer, path string, warnings []string) {
	for _, w := range warnings {
		fmt.Fprintf(stderr, "blowdraw: %s\n", strings.ReplaceAll(printable(path+": "+w), "\n", " "))
	}
}
