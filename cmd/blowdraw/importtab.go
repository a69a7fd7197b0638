package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"blowdraw/decode"
	"blowdraw/onset"
	"blowdraw/tabber"
	"blowdraw/tabber/fit"
	"blowdraw/tabber/review"
	"blowdraw/tabber/tab"
	"blowdraw/tabber/whichharp"

	"github.com/spf13/cobra"
)

// isText reports whether a file is text rather than a MIDI file, a score or anything else.
func isText(data []byte) bool {
	head := bytes.TrimLeft(bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")), " \t\r\n")
	return len(head) > 0 && head[0] != '<' && !bytes.HasPrefix(head, []byte("PK\x03\x04")) &&
		!bytes.HasPrefix(head, []byte("MThd")) && !bytes.ContainsRune(data, 0)
}

// importTab writes a text as tab: one without times, whose notes are looked for in a recording
// if one is named, or one with times.
func (f *importFlags) importTab(c *cobra.Command, name string, data []byte,
	write func(io.Writer, tab.Document) error) error {
	for _, flag := range []string{"part", "overbends"} {
		if c.Flags().Changed(flag) {
			return usage(c, "--%s is for a MIDI file or a score; %s is text", flag, name)
		}
	}
	var d tab.Document
	var err error
	if tab.HasTimes(string(data)) {
		d, err = f.timedTab(c, name, data)
	} else {
		d, err = f.plainTab(c, name, data)
	}
	if err != nil {
		return err
	}
	return f.output.write(c, func(w io.Writer) error { return write(w, d) })
}

// timedTab reads a tab with times, for the harp that the flags name if its header names none.
func (f *importFlags) timedTab(c *cobra.Command, name string, data []byte) (tab.Document, error) {
	var d tab.Document
	if f.recording != "" {
		return d, usage(c, "--recording finds the times of a tab that has none; %s has some (blowdraw check "+
			"--recording holds them against the sound)", name)
	}
	d, err := tab.Parse(bytes.NewReader(data))
	unnamed := d.Harp.Layout.Holes() == 0
	if unnamed && f.harp.key != "" {
		h, herr := f.harp.parse(c)
		if herr != nil {
			return d, herr
		}
		d, err = tab.ParseFor(bytes.NewReader(data), h)
	}
	var mistakes tab.Errors
	switch {
	case err != nil && !errors.As(err, &mistakes):
		return d, fmt.Errorf("%s: %w", name, err)
	case d.Harp.Layout.Holes() == 0 && f.harp.key == "":
		return d, usage(c, "%s does not say which harp: give its key, such as --harp C", name)
	case d.Harp.Layout.Holes() == 0:
		return d, unusable(name, mistakes)
	case !unnamed && f.harp.key != "":
		if h, err := f.harp.parse(c); err != nil {
			return d, err
		} else if h.Base != d.Harp.Base {
			return d, usage(c, "%s is for the %s harp (blowdraw retab writes it for another)", name, d.Harp.Name)
		}
	}
	tellMistakes(c.ErrOrStderr(), name, mistakes)
	if f.songKey != "" {
		if d.SongKey, d.Minor, err = songKey(c, f.songKey, d.Harp); err != nil {
			return d, err
		}
		d.SongAssumed = false
	}
	return d, nil
}

// plainTab reads a tab without times.
func (f *importFlags) plainTab(c *cobra.Command, name string, data []byte) (tab.Document, error) {
	var d tab.Document
	if f.harp.key == "" {
		f.harp.key = tab.PlainHarp(string(data))
	}
	h, err := f.harp.parse(c)
	if err != nil {
		return d, err
	}
	key, minor, err := songKey(c, f.songKey, h)
	if err != nil {
		return d, err
	}
	p, err := tab.ReadPlain(bytes.NewReader(data), h)
	if err != nil {
		return d, fmt.Errorf("%s: %w", name, err)
	}
	tellMistakes(c.ErrOrStderr(), name, p.Told)
	if len(p.Events) == 0 {
		return d, fmt.Errorf("%s: it has no notes, such as 4, -4 or -3''", name)
	}
	from := "from " + filepath.Base(name)
	if f.recording == "" {
		d = p.Document(key, minor, f.bpm, f.meter)
		d.Notes = []string{from + "; times are made up: " + madeUp(p)}
	} else if d, err = f.fitted(c, p, key, minor); err == nil {
		d.Notes = append([]string{from}, d.Notes...)
	}
	if err == nil && f.songKey == "" {
		k := whichharp.KeyOf(h, d.Events, d.TuningCents)
		if d.SongAssumed = !k.Likely(); k.Likely() {
			d.SongKey = k.PitchClass
		}
	}
	return d, err
}

// madeUp says how long the notes of a tab without times last.
func madeUp(p tab.Plain) string {
	if len(p.Bars) > 0 {
		return "every bar lasts as long, and its notes share it"
	}
	return "every note lasts a beat"
}

// longestFit is how many seconds of a recording notes are looked for in.
const longestFit = 900

// fitted looks for the notes in the recording, and tells what is not there.
func (f *importFlags) fitted(c *cobra.Command, p tab.Plain, key int, minor bool) (tab.Document, error) {
	d := tab.Document{Recording: filepath.Base(f.recording), Harp: p.Harp, SongKey: key, Minor: minor}
	section, err := f.section.options(c)
	if err != nil {
		return d, err
	}
	s, err := decode.Open(f.recording, section)
	if err != nil {
		return d, err
	}
	defer s.Close()
	to := section.To
	if end := s.Info().Duration; end > 0 && (to <= 0 || to > end) {
		to = end
	}
	if to-section.From > longestFit {
		return d, usage(c, "notes are looked for in %d minutes at most: choose a section with --from and --to",
			longestFit/60)
	}
	bar := newProgress(c.ErrOrStderr(), "finding the notes", to-section.From)
	t, err := tabber.NewTranscriber(p.Harp, tabber.Options{
		Overbends: review.Overbent(p.Events), Progress: bar.at,
	})
	var r fit.Result
	if err == nil {
		r, err = t.Fit(c.Context(), s, section.From, p.Events)
	}
	bar.done()
	if err != nil {
		return d, fmt.Errorf("finding the notes in %s: %w", f.recording, err)
	}
	warn(c.ErrOrStderr(), f.recording, s.Warnings())
	d.From, d.To, d.TuningCents, d.Channel, d.Ear = section.From, to, r.TuningCents, section.Channel.String(),
		"learned"
	var spans [][2]float64
	for _, n := range r.Notes {
		d.Events = append(d.Events, n.Event)
		spans = append(spans, [2]float64{n.Start, n.End})
		d.To = max(d.To, n.End)
	}
	for _, s := range onset.Phrases(spans, onset.Space) {
		d.Phrases = append(d.Phrases, tab.Phrase{Start: s[0], End: s[1]})
	}
	tellFit(c.ErrOrStderr(), f.recording, d, r)
	if found := foundOf(r); 2*found < len(r.Notes) {
		d.Notes = append(d.Notes, fewFound(found, len(r.Notes)))
	}
	return p.Timed(d), nil
}

func foundOf(r fit.Result) int {
	n := 0
	for _, x := range r.Notes {
		if x.Found {
			n++
		}
	}
	return n
}

// fewFound doubts that a tab is of a recording.
func fewFound(found, all int) string {
	return fmt.Sprintf("only %d of %s are heard: is it this recording, section and harp?", found,
		count(all, "note"))
}

// mostAdded is how many notes that a tab lacks are told one by one.
const mostAdded = 5

// tellFit tells what of a tab is not heard, or played otherwise, and what it lacks.
func tellFit(w io.Writer, recording string, d tab.Document, r fit.Result) {
	say := func(format string, args ...any) {
		fmt.Fprintf(w, "blowdraw: %s: %s\n", recording, fmt.Sprintf(format, args...))
	}
	found, told := foundOf(r), 0
	say("%d of %s found", found, count(len(r.Notes), "note"))
	if 2*found < len(r.Notes) {
		say("%s", fewFound(found, len(r.Notes)))
	}
	for i, n := range r.Notes {
		if n.Found {
			continue
		}
		if told++; told > mostMistakes {
			say("and %s", count(len(r.Notes)-found-mostMistakes, "more note"))
			break
		}
		what := "is not heard"
		if n.Instead != nil {
			what = "is heard as " + d.EventToken(*n.Instead)
		}
		say("line %d: %s, note %d, about %s, %s", n.Line, d.EventToken(n.Event), i+1, tab.Clock(n.Start), what)
	}
	if len(r.Added) > 0 {
		var where []string
		for _, e := range r.Added[:min(mostAdded, len(r.Added))] {
			where = append(where, fmt.Sprintf("%s at %s", d.EventToken(e), tab.Clock(e.Start)))
		}
		more := ""
		if len(r.Added) > mostAdded {
			more = ", ..."
		}
		say("heard besides: %s (%s%s)", count(len(r.Added), "note"), strings.Join(where, ", "), more)
	}
}
