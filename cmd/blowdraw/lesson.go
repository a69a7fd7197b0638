package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"

	"blowdraw/decode"
	"blowdraw/decode/stretch"
	"blowdraw/tabber/formats/captions"
	"blowdraw/tabber/formats/sheet"
	"blowdraw/tabber/lesson"
	"blowdraw/tabber/page"
	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/render"
	"blowdraw/tabber/review"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// lessonFlags are what the lesson command can be told.
type lessonFlags struct {
	recording, dir string
	speed          float64
	offset, sound  string
	teacher        bool
	sheet          sheet.Options
	force          bool
}

func newLessonCommand() *cobra.Command {
	var f lessonFlags
	c := &cobra.Command{
		Use:   "lesson TAB --recording RECORDING --dir FOLDER",
		Short: "Write all that a teacher hands out with a tab, in one folder",
		Long: `Writes a folder to hand out: the sheet to print, the listening page, for each phrase
its sound as recorded, slower, and played from the tab, captions for a video, the tab,
and index.html, which holds it together and opens with a double click. Nothing in it
loads from the network. The folder is written whole or not at all.

The sheet is the student's, without doubts; --teacher adds the teacher's.

A recording that does not seem to be that of the tab, by its sound, is refused, unless
you say --force. What is allowed for study and teaching depends on local law.

` + careWithVolume,
		Example: `  blowdraw lesson solo.tab --recording record.mp3 --dir lesson
  blowdraw lesson solo.tab --recording record.mp3 --dir lesson --speed 0.5 --teacher`,
		Args: oneTab,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args[0]) },
	}
	c.Flags().StringVar(&f.recording, "recording", "", "the recording that the tab is of")
	c.Flags().StringVar(&f.dir, "dir", "", "the folder to write, such as lesson")
	c.Flags().Float64Var(&f.speed, "speed", 0.6, "of the slower excerpts: 0.5 is half as fast")
	c.Flags().StringVar(&f.sound, "sound", "flac", "form of the excerpts: flac, wav, or with ffmpeg mp3 or m4a")
	c.Flags().StringVar(&f.offset, "offset", "", "captions: where in the video the tab's section begins "+
		"(default: the video is the recording)")
	c.Flags().BoolVar(&f.teacher, "teacher", false, "with the teacher's sheet, too: doubts, cents and dB")
	c.Flags().BoolVar(&f.sheet.Notes, "notes", false, "sheet: with the notes' names, for other players")
	c.Flags().BoolVar(&f.sheet.Large, "large", false, "sheet: for a music stand")
	c.Flags().BoolVar(&f.force, "force", false, "overwrite files of the folder, and take a recording that "+
		"does not fit the tab")
	return c
}

func (f *lessonFlags) run(c *cobra.Command, path string) error {
	opt, err := f.check(c)
	if err != nil {
		return err
	}
	d, name, err := readWarned(c, path)
	if err != nil {
		return err
	}
	if len(d.Events) == 0 {
		return fmt.Errorf("%s: nothing is played", name)
	}
	if f.offset != "" {
		opt.Offset -= d.From
	}
	if len(d.Bars) == 0 {
		fmt.Fprintf(c.ErrOrStderr(), "blowdraw: %s: %s (with blowdraw export --as tab)\n", name, sheet.NoBars(d))
	}
	p, err := pageOf(c, f.recording, d)
	if err != nil {
		return err
	}
	if !f.force && !review.Belongs(d, p.From, p.Pitches).Belongs() {
		return &strangerError{name, f.recording}
	}
	excerpts, sounds, err := f.excerpts(c, d)
	if err != nil {
		return err
	}
	files := f.papers(d, p, opt)
	about := make([]lesson.File, 0, len(files))
	for _, x := range files {
		about = append(about, lesson.File{Name: x.name, About: x.about})
	}
	index := lesson.Lesson{Tab: d, Files: about, Sounds: sounds}
	files = append(append(files, excerpts...), folderFile{name: "index.html",
		write: func(w io.Writer) error { return lesson.Write(w, index) }})
	if err := writeFolder(f.dir, f.force, files); err != nil {
		return err
	}
	fmt.Fprintf(c.OutOrStdout(), "Written: %s, %s. Open its index.html.\n", f.dir, count(len(files), "file"))
	return nil
}

// check the flags before anything is read.
func (f *lessonFlags) check(c *cobra.Command) (captions.Options, error) {
	var opt captions.Options
	switch {
	case f.recording == "":
		return opt, usage(c, "which recording? Give --recording FILE")
	case f.dir == "":
		return opt, usage(c, "which folder? Give its name, such as --dir lesson")
	}
	if _, known := soundForms["."+f.sound]; !known {
		return opt, usage(c, "--sound %q: want flac, wav, mp3 or m4a", f.sound)
	}
	if err := errors.Join(checkSpeed(c, "--speed", f.speed), checkEncoder("."+f.sound)); err != nil {
		return opt, err
	}
	if f.offset != "" {
		at, err := decode.ParseTime(f.offset)
		if err != nil {
			return opt, usage(c, "--offset: %w", err)
		}
		opt.Offset = at
	}
	return opt, checkFolder(f.dir)
}

// strangerError is a recording that does not go with a tab.
type strangerError struct{ tab, recording string }

func (e *strangerError) Error() string {
	return fmt.Sprintf("%s does not sound like the recording of %s", e.recording, e.tab)
}

// papers are what is read of a lesson.
func (f *lessonFlags) papers(d tab.Document, p page.Page, opt captions.Options) []folderFile {
	student, teacher := f.sheet, f.sheet
	student.Student = true
	sheetOf := func(opt sheet.Options) func(io.Writer) error {
		return func(w io.Writer) error { return sheet.WriteHTML(w, d, opt) }
	}
	out := []folderFile{
		{"sheet.html", "the sheet, to print", sheetOf(student)},
		{"page.html", "to see, hear and loop it, and to correct the tab",
			func(w io.Writer) error { return page.Write(w, p) }},
		{"tab.tab", "the tab, for any editor", func(w io.Writer) error { return tab.WriteText(w, d) }},
		{"captions.vtt", "captions for the video",
			func(w io.Writer) error { return captions.WriteVTT(w, d, opt) }},
		{"captions.srt", "the same for other players",
			func(w io.Writer) error { return captions.WriteSRT(w, d, opt) }},
	}
	if f.teacher {
		out = append(out, folderFile{"teacher.html", "the teacher's sheet: doubts, cents, dB", sheetOf(teacher)})
	}
	return out
}

// Room around a phrase in its excerpt, and how an excerpt begins and ends, in seconds.
const roomBefore, roomAfter, fadeSeconds = 0.3, 0.5, 0.02

// excerpts are the sounds of the phrases: as recorded, slower, and played from the tab.
func (f *lessonFlags) excerpts(c *cobra.Command, d tab.Document) ([]folderFile, [][]lesson.Sound, error) {
	section, err := hearing{recording: f.recording}.section(c, d)
	if err != nil {
		return nil, nil, err
	}
	rate, record, err := loadChannels(c, f.recording, section, true)
	if err != nil {
		return nil, nil, err
	}
	phrases := phrasing.Groups(d)
	bar := newProgress(c.ErrOrStderr(), "cutting the phrases", float64(len(phrases)))
	defer bar.done()
	var files []folderFile
	var sounds [][]lesson.Sound
	for n, events := range phrases {
		if err := c.Context().Err(); err != nil {
			return nil, nil, err
		}
		bar.at(float64(n))
		from, to := spanOf(d, events)
		from, to = max(section.From, from-roomBefore), to+roomAfter
		cut := excerpt(record, rate, from-section.From, to-section.From)
		slower := stretch.Stretch(cut, rate, f.speed, 0)
		played := [][]float64{(&renderFlags{tone: "dry"}).play(only(d, events), from,
			from+float64(len(cut[0]))/float64(rate), 1, d.TuningCents, rate)}
		render.Even(played[0], rate)
		var row []lesson.Sound
		for _, x := range []struct {
			name, about string
			channels    [][]float64
		}{
			{"recorded", "as recorded", cut},
			{"slower", fmt.Sprintf("at %.0f %% of the speed", 100*f.speed), slower},
			{"tab", "played from the tab", played},
		} {
			if x.name != "tab" {
				render.Soften(x.channels, rate)
			}
			name := fmt.Sprintf("phrases/%02d-%s.%s", n+1, x.name, f.sound)
			var b bytes.Buffer // which takes less than samples until all are written
			if err := writeSound(c.Context(), &b, "."+f.sound, rate, x.channels); err != nil {
				return nil, nil, fmt.Errorf("writing %s: %w", name, err)
			}
			files = append(files, folderFile{name: name, write: func(w io.Writer) error {
				_, err := w.Write(b.Bytes())
				return err
			}})
			row = append(row, lesson.Sound{File: name, About: x.about})
		}
		sounds = append(sounds, row)
	}
	return files, sounds, nil
}

// spanOf is from when to when events of a tab sound, in seconds.
func spanOf(d tab.Document, events []int) (from, to float64) {
	from = d.Events[events[0]].Start
	for _, i := range events {
		to = max(to, d.Events[i].End)
	}
	return from, to
}

// excerpt is a stretch of channels from one time to another in seconds, as far as they go,
// that begins and ends softly; a copy.
func excerpt(channels [][]float64, rate int, from, to float64) [][]float64 {
	n := len(channels[0])
	a := min(max(0, int(math.Round(from*float64(rate)))), n)
	b := min(max(a, int(math.Round(to*float64(rate)))), n)
	fade := min(int(fadeSeconds*float64(rate)), (b-a)/2)
	out := make([][]float64, len(channels))
	for i, x := range channels {
		out[i] = append([]float64(nil), x[a:b]...)
		for k := range fade {
			g := float64(k) / float64(fade)
			out[i][k] *= g
			out[i][len(out[i])-1-k] *= g
		}
	}
	return out
}
