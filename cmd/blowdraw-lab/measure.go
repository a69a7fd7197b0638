package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"blowdraw/tabber/lab/measure"

	"github.com/spf13/cobra"
)

// measureFlags are what the measure command can be told.
type measureFlags struct {
	from, onset, latency            float64
	ear, keep, firsts, sound, heard string
	means                           string
	harps, aubio, yardsticks, real  bool
	tiers, folders                  bool
}

func newMeasureCommand() *cobra.Command {
	var f measureFlags
	c := &cobra.Command{
		Use:   "measure FOLDER ...",
		Short: "Print how right blowdraw is on clips with their truth",
		Long: `Transcribes every clip of a folder that has its truth (NAME.truth.json) beside it
and prints how right the transcriptions are, clip by clip and as means of tiers,
and how well the marks of the truth were found.

  --harps        which harp is played, instead of being told
  --first-beats  how often the first beat of the bar is right, in clips that state
                 their bars, each begun at several times
  --real         recordings that people annotated, who may not all agree
  --aubio        the notes that aubionotes finds instead (Debian package aubio-tools)
  --yardsticks   notes, time and memory of aubio's programs and blowdraw side by side`,
		Example: `  blowdraw-lab measure hard-99
  blowdraw-lab measure --onset 0.1 --json heard annotated
  blowdraw-lab measure --first-beats 0,2.2,3.1 bench
  blowdraw-lab measure --real --sound recordings annotated`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usage(c, "want a folder of clips")
			}
			return nil
		},
		RunE: f.run,
	}
	c.Flags().Float64Var(&f.from, "from", 0, "`SECONDS` into each clip at which to begin")
	c.Flags().StringVar(&f.ear, "ear", "learned", "how to listen: learned or classical")
	c.Flags().Float64Var(&f.onset, "onset", 0.05, "tolerance of onsets in `SECONDS`")
	c.Flags().StringVar(&f.keep, "json", "", "also write each transcription as JSON into this `FOLDER`")
	c.Flags().BoolVar(&f.tiers, "tiers", false, "no clips, only tiers, a column for each")
	c.Flags().StringVar(&f.means, "means", "", "with --tiers, of one folder: also write the means as JSON into this `FILE`")
	c.Flags().BoolVar(&f.folders, "folders", false, "no clips, only a line for each folder")
	c.Flags().BoolVar(&f.harps, "harps", false, "rank the harps")
	c.Flags().StringVar(&f.firsts, "first-beats", "",
		"count right first beats in clips begun at these `SECONDS`, separated by commas")
	c.Flags().BoolVar(&f.real, "real", false, "compare with what people annotated")
	c.Flags().StringVar(&f.sound, "sound", "", "`FOLDER` of recordings that do not lie beside their truth")
	c.Flags().StringVar(&f.heard, "heard", "",
		"with --real: judge the transcriptions (NAME.json) of this `FOLDER`")
	c.Flags().BoolVar(&f.aubio, "aubio", false, "score aubionotes")
	c.Flags().BoolVar(&f.yardsticks, "yardsticks", false, "aubio's programs and blowdraw side by side")
	c.Flags().Float64Var(&f.latency, "latency", 0.065, "`SECONDS` by which the notes of aubionotes come late")
	return c
}

// modes are flags that exclude each other, and the flags that each goes with; the empty
// one is without any of them.
var modes = map[string][]string{
	"":            {"from", "ear", "onset", "json", "sound", "tiers", "folders"},
	"harps":       {"tiers"},
	"first-beats": {"ear", "tiers"},
	"real":        {"ear", "json", "sound", "heard"},
	"aubio":       {"latency", "onset"},
	"yardsticks":  {"latency", "onset"},
}

// check that the flags go together.
func (f *measureFlags) check(c *cobra.Command) error {
	if err := atMostOne(c, "tiers", "folders"); err != nil {
		return err
	}
	names := []string{"harps", "first-beats", "real", "aubio", "yardsticks"}
	if err := atMostOne(c, names...); err != nil {
		return err
	}
	mode := ""
	for _, name := range names {
		if c.Flags().Changed(name) {
			mode = name
		}
	}
	allowed := " " + strings.Join(modes[mode], " ") + " "
	for _, name := range []string{"from", "ear", "onset", "json", "sound", "heard", "latency", "tiers",
		"folders"} {
		if !c.Flags().Changed(name) || strings.Contains(allowed, " "+name+" ") {
			continue
		}
		if mode == "" {
			return usage(c, "--%s has nothing to do without another flag", name)
		}
		return usage(c, "--%s has nothing to do with --%s", name, mode)
	}
	if f.ear != "learned" && f.ear != "classical" {
		return usage(c, "no ear %q: there are learned and classical", f.ear)
	}
	if !(f.from >= 0 && f.onset >= 0) {
		return usage(c, "--from and --onset want seconds")
	}
	if f.means != "" && (!f.tiers || mode != "") {
		return usage(c, "--means goes with --tiers alone")
	}
	if f.keep != "" {
		if info, err := os.Stat(f.keep); err != nil || !info.IsDir() {
			return fmt.Errorf("there is no folder %s to write transcriptions into", f.keep)
		}
	}
	return nil
}

func (f *measureFlags) run(c *cobra.Command, folders []string) error {
	if err := f.check(c); err != nil {
		return err
	}
	if f.means != "" && len(folders) > 1 {
		return usage(c, "--means is of one folder, got %d", len(folders))
	}
	var starts []float64
	if c.Flags().Changed("first-beats") {
		var err error
		if starts, err = measure.ParseStarts(f.firsts); err != nil {
			return usageError{err, c.CommandPath()}
		}
	}
	if f.folders {
		measure.PrintFolderHead(c.OutOrStdout())
	}
	for i, dir := range folders {
		if len(folders) > 1 && !f.folders {
			if i > 0 {
				fmt.Fprintln(c.OutOrStdout())
			}
			fmt.Fprintf(c.OutOrStdout(), "%s\n\n", dir)
		}
		if err := f.folder(c.Context(), c.OutOrStdout(), dir, starts); err != nil {
			return err
		}
	}
	return nil
}

// folder measures one.
func (f *measureFlags) folder(ctx context.Context, w io.Writer, dir string, starts []float64) error {
	o := measure.Options{From: f.from, Ear: f.ear, Onset: f.onset, Keep: f.keep, Sound: f.sound}
	switch {
	case f.harps:
		return measure.Harps(ctx, w, dir, f.tiers)
	case starts != nil:
		return measure.FirstBeats(ctx, w, dir, starts, f.ear, f.tiers)
	case f.yardsticks:
		return measure.Yardsticks(ctx, w, dir, f.latency, f.onset)
	case f.real:
		return f.realFolder(ctx, w, dir, o)
	}
	var clips []measure.Clip
	var err error
	if f.aubio {
		clips, err = measure.Aubio(ctx, dir, f.latency, f.onset)
	} else {
		clips, err = measure.Folder(ctx, dir, o)
	}
	switch {
	case err != nil:
		return err
	case f.folders:
		measure.PrintFolder(w, filepath.Base(dir), clips)
	case f.tiers:
		measure.PrintTiers(w, clips)
		if f.means != "" {
			return measure.WriteMeans(f.means, measure.MeansOf(clips))
		}
	default:
		measure.Print(w, clips)
	}
	return nil
}

func (f *measureFlags) realFolder(ctx context.Context, w io.Writer, dir string, o measure.Options) error {
	all, err := func() ([]measure.Annotated, error) {
		if f.heard != "" {
			return measure.RealWritten(ctx, dir, f.heard)
		}
		return measure.Real(ctx, dir, o)
	}()
	if err == nil {
		measure.PrintReal(w, all)
	}
	return err
}
