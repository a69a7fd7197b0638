package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"blowdraw/decode"
	"blowdraw/decode/stretch"
	"blowdraw/tabber/formats/midi"
	"blowdraw/tabber/formats/musicxml"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/render"
	"blowdraw/tabber/retab"
	"blowdraw/tabber/review"
	"blowdraw/tabber/study"
	"blowdraw/tabber/study/wording"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// Seconds of the recording that are kept before and after a move.
const (
	leadIn  = 0.3
	leadOut = 0.6
)

// cardFile is a file of a card: what it is, and its content.
type cardFile struct {
	name, about string
	write       func(io.Writer) error
}

// writeCards writes a folder for each move of a player.
func (f *studyFlags) writeCards(c *cobra.Command, solos []studied) error {
	var tabs []tab.Document
	for _, s := range solos {
		tabs = append(tabs, s.tab)
	}
	found := study.Of(tabs)
	if len(found.Moves) == 0 {
		why := "nothing comes back by more than chance"
		if found.Summary.Short {
			why = fmt.Sprintf("%.0f bars are too few to tell a move from chance", found.Summary.Bars)
		}
		return fmt.Errorf("no cards: %s", why)
	}
	bar := newProgress(c.ErrOrStderr(), "writing cards", float64(len(found.Moves)))
	defer bar.done()
	for i, m := range found.Moves {
		folder := filepath.Join(f.cards, fmt.Sprintf("%02d-%s", m.Number, study.Slug(m)))
		if err := os.MkdirAll(folder, 0o755); err != nil {
			return fmt.Errorf("making the folder %s: %w", folder, err)
		}
		files, err := f.card(c, solos, tabs, m)
		if err != nil {
			return err
		}
		for _, x := range files {
			if err := writeFile(filepath.Join(folder, x.name), f.force, x.write); err != nil {
				return err
			}
		}
		bar.at(float64(i + 1))
	}
	bar.done()
	fmt.Fprintf(c.OutOrStdout(), "Written: %s in %s.\n", count(len(found.Moves), "card"), f.cards)
	return nil
}

// card lists the files of a move.
func (f *studyFlags) card(c *cobra.Command, solos []studied, tabs []tab.Document,
	m study.Move) ([]cardFile, error) {
	main := study.Main(tabs, m)
	source := solos[main.Solo]
	excerpt := study.Excerpt(source.tab, main)
	exercise := study.Exercise(source.tab, main, m.Times)
	files := []cardFile{
		{"move.tab", "the move as it is played at " + wording.Place(main.Place, len(solos)), document(excerpt)},
		{"move.musicxml", "for a notation program", func(w io.Writer) error { return musicxml.Write(w, excerpt) }},
		{"move.mid", "for a sequencer", func(w io.Writer) error { return midi.Write(w, excerpt) }},
	}
	if source.recording != "" {
		sounds, err := f.recorded(c, source, main)
		if err != nil {
			return nil, err
		}
		files = append(files, sounds...)
	}
	files = append(files, cardFile{"played.wav", "the tab, played", sounding(excerpt, false)})
	if f.toHarp != "" || f.position > 0 {
		other, err := f.elsewhere(c, source, excerpt)
		if err != nil {
			return nil, err
		}
		files = append(files,
			cardFile{"other.tab", fmt.Sprintf("the same on the %s harp in %s position", other.Harp.Name,
				harp.PositionName(other.HarpPosition())), document(other)},
			cardFile{"other.wav", "that, played", sounding(other, false)})
	}
	files = append(files,
		cardFile{"exercise.tab", "once through the form, the move where the player uses it", document(exercise)},
		cardFile{"exercise.wav", "that, over a click, after a bar to count in", sounding(exercise, true)})
	names := make([]string, len(solos))
	for i, s := range solos {
		names[i] = s.name
	}
	about := cardText(m, names, files)
	return append(files, cardFile{"card.txt", "", func(w io.Writer) error {
		_, err := w.Write(about)
		return err
	}}), nil
}

func document(d tab.Document) func(io.Writer) error {
	return func(w io.Writer) error { return tab.WriteText(w, d) }
}

// sounding plays a tab from the start of its section on, over a click if asked for.
func sounding(d tab.Document, click bool) func(io.Writer) error {
	return func(w io.Writer) error {
		f := renderFlags{tone: "room"}
		t := track{trackFlags: trackFlags{click: click}, speeds: []float64{1}, from: d.From, to: d.To + leadOut,
			beats: d, rate: alone}
		channels, err := t.build(func(speed float64) ([][]float64, error) {
			x := f.play(d, t.from, t.to, speed, 0, alone)
			render.Even(x, alone)
			return [][]float64{x}, nil
		})
		if err != nil {
			return err
		}
		return decode.WriteWAVChannels(w, alone, channels)
	}
}

// recorded is the move cut from the recording, and the same slower.
func (f *studyFlags) recorded(c *cobra.Command, s studied, t study.Played) ([]cardFile, error) {
	opt, err := hearing{recording: s.recording}.section(c, s.tab)
	if err != nil {
		return nil, err
	}
	opt.From, opt.To = max(0, t.From-leadIn), t.To+leadOut
	rate, channels, err := loadChannels(c, s.recording, opt, false)
	if err != nil {
		return nil, err
	}
	slow := stretch.Stretch(channels, rate, f.speed, 0)
	render.Soften(channels, rate)
	render.Soften(slow, rate)
	write := func(channels [][]float64) func(io.Writer) error {
		return func(w io.Writer) error { return decode.WriteWAVChannels(w, rate, channels) }
	}
	return []cardFile{
		{"recorded.wav", "as recorded", write(channels)},
		{"slower.wav", fmt.Sprintf("as recorded, %.0f%% as fast", 100*f.speed), write(slow)},
	}, nil
}

// elsewhere is an excerpt for another harp or position, as blowdraw retab writes it.
func (f *studyFlags) elsewhere(c *cobra.Command, s studied, excerpt tab.Document) (tab.Document, error) {
	name := f.toHarp
	if name == "" {
		name = excerpt.Harp.Name
	}
	h, err := harp.Parse(name, excerpt.Harp.Layout)
	if err != nil {
		return excerpt, usage(c, "--to-harp: %w", err)
	}
	key := excerpt.SongKey
	if f.position > 0 {
		key = harp.SongKey(h.Key(), f.position)
	}
	other, flags := retab.Music(excerpt, h, key, review.Overbent(excerpt.Events))
	tellFlags(c.ErrOrStderr(), s.name, other, flags)
	return other, nil
}

// cardText says what a move is and which files its card has.
func cardText(m study.Move, names []string, files []cardFile) []byte {
	var b bytes.Buffer
	p := studyPrinter{&b, helpWidth, len(names)}
	p.say("", fmt.Sprintf("Move %d: %s", m.Number, m.Name))
	for _, line := range wording.MoveLines(m) {
		p.under(line[0], line[1])
	}
	for i, t := range m.Times {
		what := ""
		if i == 0 {
			what = "heard at"
		}
		p.under(what, wording.Place(t.Place, 1)+"  "+names[t.Solo]+"  "+t.Tab)
	}
	b.WriteString("\n")
	var rows [][]string
	for _, f := range files {
		rows = append(rows, []string{"  " + f.name, f.about})
	}
	printColumns(&b, rows)
	return b.Bytes()
}
