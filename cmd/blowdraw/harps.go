package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"blowdraw/decode"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
	"blowdraw/tabber/whichharp"

	"github.com/spf13/cobra"
)

// harpsFlags are what the harps command can be told.
type harpsFlags struct {
	section sectionFlags
	songKey string
	layout  string
	stretch float64
	all     bool
}

func newHarpsCommand() *cobra.Command {
	var f harpsFlags
	c := &cobra.Command{
		Use:   "harps RECORDING",
		Short: "Tell which harp is played, in which key, and how it is tuned",
		Long: `Ranks the harps that may be played in a section of a recording, with the key of
the song and the position for each, and says why. Then how far the recording is
off A4 = 440 Hz, how fast it has to be played to be right, and how the reeds of
the harp are tuned.

It listens to as much of the section as it needs, three minutes at most.
With --section it tells, stretch by stretch, whether the harp changes.`,
		Example: `  blowdraw harps solo.wav
  blowdraw harps record.mp3 --from 1:23.4 --for 20 --song-key E
  blowdraw harps concert.flac --section=30`,
		Args: oneRecording,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args[0]) },
	}
	f.section.add(c)
	c.Flags().StringVar(&f.songKey, "song-key", "", "key of the song, if you know it")
	c.Flags().
		StringVar(&f.layout, "layout", "", "tuning of the harp, if you know it: "+layoutNames()+", or a file")
	c.Flags().
		Float64Var(&f.stretch, "section", 0, "listen in stretches of so many seconds and tell where the harp changes")
	c.Flags().Lookup("section").NoOptDefVal = "20"
	c.Flags().BoolVar(&f.all, "all", false, "list unlikely harps, too")
	return c
}

func (f *harpsFlags) run(c *cobra.Command, path string) error {
	section, err := f.section.options(c)
	if err != nil {
		return err
	}
	opt, err := searchOptions(c, f.songKey, f.layout)
	if err != nil {
		return err
	}
	if c.Flags().Changed("section") {
		if !(f.stretch >= 5 && f.stretch <= 120) {
			return usage(c, "--section %g: want 5 to 120 seconds", f.stretch)
		}
		return f.changes(c, path, section, opt)
	}
	bar := newProgress(c.ErrOrStderr(), whichText, 0)
	heard, err := whichHarp(c.Context(), c.ErrOrStderr(), bar, path, section, opt)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s, %s to %s\n\n", path, decode.Clock(heard.from), decode.Clock(heard.to))
	printHarps(&b, heard.Candidates, f.all)
	printEvidence(&b, heard.Candidates)
	printTuning(&b, heard.Ranking)
	_, err = c.OutOrStdout().Write(b.Bytes())
	return err
}

// searchOptions from what the user knows; empty strings for nothing.
func searchOptions(c *cobra.Command, songKey, layout string) (whichharp.Options, error) {
	opt := whichharp.Options{SongKey: whichharp.AnyKey}
	if songKey != "" {
		key, _, err := harp.ParseSongKey(songKey)
		if err != nil {
			return opt, usage(c, "--song-key: %w", err)
		}
		opt.SongKey = key
	}
	if layout != "" {
		l, err := (&harpFlags{layout: layout}).readLayout(c)
		if err != nil {
			return opt, err
		}
		opt.Layout = &l
	}
	return opt, nil
}

// harpSeconds of a section are listened to for the harp.
const harpSeconds = 180

// heardHarps is what a section of a recording says of the harp.
type heardHarps struct {
	whichharp.Ranking
	from, to float64
}

// whichText is what is being done while harps are ranked.
const whichText = "which harp is it?"

// whichHarp ranks the harps for the first harpSeconds of a section. The bar is cleared
// in the end.
func whichHarp(
	ctx context.Context,
	stderr io.Writer,
	bar *progress,
	path string,
	section decode.Options,
	opt whichharp.Options,
) (heardHarps, error) {
	var none heardHarps
	defer bar.done()
	section, err := shortened(path, section, harpSeconds)
	if err != nil {
		return none, err
	}
	clip, _, warnings, err := decode.Load(path, section)
	if err != nil {
		return none, err
	}
	bar.done()
	warn(stderr, path, warnings)
	r, err := whichharp.New()
	if err != nil {
		return none, err
	}
	opt.Progress = bar.share
	k, err := r.Rank(ctx, clip, opt)
	if err != nil {
		return none, fmt.Errorf("listening to %s: %w", path, err)
	}
	to := clip.Start + float64(len(clip.Samples))/float64(clip.Rate)
	if len(k.Candidates) == 0 || len(k.Candidates[0].Fit.Events) == 0 {
		return none, &silentError{path, clip.Start, to}
	}
	return heardHarps{k, clip.Start, to}, nil
}

// shortened is so much of the section's beginning.
func shortened(path string, section decode.Options, seconds float64) (decode.Options, error) {
	s, err := decode.Open(path, section)
	if err != nil {
		return section, err
	}
	defer s.Close()
	most := section.From + seconds
	if d := s.Info().Duration; (section.To <= 0 || section.To > most) && (d == 0 || d > most) {
		section.To = most
	}
	return section, nil
}

// likelyHarp is the least probability with which a harp is listed.
const likelyHarp = 0.01

func printHarps(b *bytes.Buffer, candidates []whichharp.Candidate, all bool) {
	rows := [][]string{{"harp", "likely", "song key", "position"}}
	for i, k := range candidates {
		if i > 0 && k.Probability < likelyHarp && !all {
			break
		}
		rows = append(
			rows,
			[]string{harpName(k.Harp), percent(k.Probability), k.Harp.KeyName(k.SongKey()), positionText(k.Positions)},
		)
	}
	printColumns(b, rows)
}

// harpName is the key, and the layout if it is not the common one.
func harpName(h harp.Harp) string {
	if h.Layout.Equal(harp.Layouts()[0]) {
		return h.Name
	}
	return h.Name + ", " + h.Layout.Name
}

// percent never says that it is certain or impossible.
func percent(p float64) string {
	switch {
	case p > 0.99:
		return "99%"
	case p < 0.01:
		return "under 1%"
	}
	return fmt.Sprintf("%.0f%%", 100*p)
}

// positionText is the likeliest position, with its probability unless it is clear,
// and the next if it is likely too.
func positionText(p []whichharp.Position) string {
	text := harp.PositionName(p[0].Number)
	if p[0].Probability < 0.9 {
		text += fmt.Sprintf(" (%s), or %s", percent(p[0].Probability), harp.PositionName(p[1].Number))
	}
	return text
}

func printEvidence(b *bytes.Buffer, candidates []whichharp.Candidate) {
	best := candidates[0]
	var rival *whichharp.Candidate
	if len(candidates) > 1 {
		rival = &candidates[1]
	}
	fmt.Fprintf(
		b,
		"\nWhat was heard, for %s %s harp in %s:\n",
		articleFor(best.Harp.Name),
		harpName(best.Harp),
		best.Harp.KeyName(best.SongKey()),
	)
	for _, line := range best.Evidence(rival) {
		fmt.Fprintf(b, "  %s\n", line)
	}
}

// articleFor the name of a harp as it is spoken: an A, an E, an F# harp.
func articleFor(name string) string {
	if strings.ContainsAny(name[:1], "AEF") {
		return "an"
	}
	return "a"
}

func printTuning(b *bytes.Buffer, k whichharp.Ranking) {
	t, best := k.Tuning, k.Candidates[0]
	fmt.Fprintf(b, "\nTuning: %s, give or take %.0f cents.", offText(t.Cents), math.Ceil(2*t.Error))
	if math.Abs(t.Cents) >= 1 {
		fmt.Fprintf(b, " Played %.4f times as fast it is right.", math.Exp2(-t.Cents/1200))
	}
	b.WriteString("\n")
	reeds := best.Reeds()
	schemes := whichharp.Schemes(best.Harp, reeds)
	const leastReeds, clearly = 5, 1.5
	switch {
	case len(reeds) < leastReeds:
		fmt.Fprintf(b, "Temperament: %s heard, too few to tell.\n", count(len(reeds), "reed"))
	case schemes[1].Off-schemes[0].Off < clearly:
		fmt.Fprintf(
			b,
			"Temperament: %s or %s, the reeds don't tell which.\n",
			schemes[0].Temperament.Name,
			schemes[1].Temperament.Name,
		)
	default:
		fmt.Fprintf(b, "Temperament: %s; the reeds lie %.0f cents off it on average, %.0f off %s.\n",
			schemes[0].Temperament.Name, schemes[0].Off, schemes[1].Off, schemes[1].Temperament.Name)
	}
	b.WriteString("Cents by which the reeds that were heard sound off equal temperament:\n\n")
	printReeds(b, best.Harp, reeds)
}

// offText: "23 cents below A4 = 440 Hz".
func offText(cents float64) string {
	switch {
	case math.Abs(cents) < 0.5:
		return "at A4 = 440 Hz"
	case cents < 0:
		return fmt.Sprintf("%.0f cents below A4 = 440 Hz", -cents)
	}
	return fmt.Sprintf("%.0f cents above A4 = 440 Hz", cents)
}

func printReeds(b *bytes.Buffer, h harp.Harp, reeds []whichharp.Reed) {
	rows := [][]string{{"  hole"}, {"  blow"}, {"  draw"}}
	for hole := 1; hole <= h.Layout.Holes(); hole++ {
		rows[0] = append(rows[0], fmt.Sprint(hole))
		rows[1], rows[2] = append(rows[1], "."), append(rows[2], ".")
	}
	for _, r := range reeds {
		rows[1+int(r.Action.Breath)][r.Action.Hole] = fmt.Sprintf("%+.0f", r.Cents)
	}
	printColumns(b, rows)
}

// changes prints which harp is played when.
func (f *harpsFlags) changes(
	c *cobra.Command,
	path string,
	section decode.Options,
	opt whichharp.Options,
) error {
	s, err := decode.Open(path, section)
	if err != nil {
		return err
	}
	defer s.Close()
	r, err := whichharp.New()
	if err != nil {
		return err
	}
	to := section.To
	if d := s.Info().Duration; d > 0 && (to <= 0 || to > d) {
		to = d
	}
	bar := newProgress(c.ErrOrStderr(), whichText, to-section.From)
	stretches, err := r.Changes(c.Context(), s, f.stretch, opt, bar.at)
	bar.done()
	if err != nil {
		return fmt.Errorf("listening to %s: %w", path, err)
	}
	warn(c.ErrOrStderr(), path, s.Warnings())
	if len(stretches) == 0 {
		return errors.New(path + ": no notes found")
	}
	rows := [][]string{{"from", "to", "harp", "likely", "song key", "position"}}
	for _, k := range stretches {
		rows = append(
			rows,
			[]string{decode.Clock(k.From), decode.Clock(k.To), harpName(k.Harp), percent(k.Probability),
				k.Harp.KeyName(k.SongKey()), positionText(k.Positions)},
		)
	}
	var b bytes.Buffer
	printColumns(&b, rows)
	if len(stretches) == 1 {
		b.WriteString("The harp does not change.\n")
	}
	_, err = c.OutOrStdout().Write(b.Bytes())
	return err
}

// heardHarp is the likeliest harp by the sound and the key of the song, and what
// to say of it.
func heardHarp(
	ctx context.Context,
	stderr io.Writer,
	path string,
	section decode.Options,
	opt whichharp.Options,
) (h harp.Harp, key int, said string, err error) {
	heard, err := whichHarp(ctx, stderr, newProgress(stderr, whichText, 0), path, section, opt)
	if err != nil {
		return h, 0, "", err
	}
	best := heard.Candidates[0]
	said = fmt.Sprintf(
		"the harp by its sound: %s (%s), in %s",
		harpName(best.Harp),
		percent(best.Probability),
		best.Harp.KeyName(best.SongKey()),
	)
	if next := heard.Candidates[1]; next.Probability >= likelyHarp {
		said += fmt.Sprintf("; else %s (%s)", harpName(next.Harp), percent(next.Probability))
	}
	return best.Harp, best.SongKey(), said + "; name the right one with --harp", nil
}

// betterHarp doubts the harp that a tab was written for if another fits its
// recording far better; empty otherwise. It listens again only if the notes look
// odd for the harp.
func betterHarp(
	ctx context.Context,
	stderr io.Writer,
	path string,
	section decode.Options,
	d tab.Document,
) string {
	if !whichharp.Odd(d.Harp, d.Events, d.TuningCents) {
		return ""
	}
	return farBetterHarp(ctx, stderr, path, section, d)
}

// farBetterHarp is betterHarp whatever the notes look like.
func farBetterHarp(
	ctx context.Context, stderr io.Writer, path string, section decode.Options, d tab.Document,
) string {
	opt := whichharp.Options{SongKey: whichharp.AnyKey}
	if !slices.ContainsFunc(harp.Layouts(), d.Harp.Layout.Equal) {
		opt.Layout = &d.Harp.Layout
	}
	bar := newProgress(stderr, "is it another harp?", 0)
	heard, err := whichHarp(ctx, io.Discard, bar, path, section, opt)
	if err != nil {
		return "" // the tab stands without it
	}
	const surely, hardly = 0.6, 0.1
	best := heard.Candidates[0]
	if best.Probability < surely || heard.Probability(d.Harp) > hardly {
		return ""
	}
	return fmt.Sprintf(
		"%s %s harp fits this far better (%s) than the %s harp (%s): see blowdraw harps",
		articleFor(
			best.Harp.Name,
		),
		harpName(best.Harp),
		percent(best.Probability),
		harpName(d.Harp),
		percent(heard.Probability(d.Harp)),
	)
}
