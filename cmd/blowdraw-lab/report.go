package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"blowdraw/tabber/lab/data"
	"blowdraw/tabber/lab/files"
	"blowdraw/tabber/lab/report"

	"github.com/spf13/cobra"
)

// reportFlags are what the report command can be told.
type reportFlags struct {
	bench, real, sound, root, sets, output string
	make, aubio, slow, hours               bool
	only                                   []string
}

func newReportCommand() *cobra.Command {
	var f reportFlags
	c := &cobra.Command{
		Use:   "report",
		Short: "Write the tables of results, RESULTS.md",
		Long: `Measures what there is and writes tabber/lab/RESULTS.md: tables, each with the
command lines that make it. A table whose folder is not given, or whose sets of
clips are not there, stays as it is in the file, and that is told.

The sets of clips are those that --make, and blowdraw-lab fit, keep.`,
		Example: `  blowdraw-lab report --bench bench --real annotated --sound recordings --make
  blowdraw-lab report --slow --only Speed`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 0 {
				return usage(c, "%q is one word too many", args[0])
			}
			return nil
		},
		RunE: f.run,
	}
	c.Flags().StringVar(&f.bench, "bench", "", "`FOLDER` of the bench")
	c.Flags().StringVar(&f.real, "real", "", "`FOLDER` of recordings that people annotated")
	c.Flags().StringVar(&f.sound, "sound", "", "`FOLDER` of their sound, where it does not lie beside")
	addSets(c, &f.sets)
	c.Flags().BoolVar(&f.make, "make", false, "make the sets of clips that are not there")
	c.Flags().BoolVar(&f.aubio, "aubio", false, "run aubio's programs on the bench, too")
	c.Flags().BoolVar(&f.slow, "slow", false, "run benchmarks and slow tests, too")
	c.Flags().BoolVar(&f.hours, "hours", false, "run the tests of faults and of load and the fuzz targets, too")
	c.Flags().StringSliceVar(&f.only, "only", nil,
		"only the tables of these `TITLES`, or of titles that begin so")
	c.Flags().StringVar(&f.root, "root", ".", "`FOLDER` of the repository")
	c.Flags().StringVarP(&f.output, "output", "o", "", "write to this `FILE` instead")
	return c
}

func (f *reportFlags) run(c *cobra.Command, _ []string) error {
	for name, dir := range map[string]string{"bench": f.bench, "real": f.real, "sound": f.sound} {
		if info, err := os.Stat(dir); dir != "" && (err != nil || !info.IsDir()) {
			return fmt.Errorf("--%s: there is no folder %s", name, dir)
		}
	}
	path := f.output
	if path == "" {
		path = filepath.Join(f.root, "tabber", "lab", "RESULTS.md")
	}
	old, err := os.ReadFile(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("reading the old results: %w", err)
	}
	sections := report.Sections(report.Given{
		Bench: f.bench, Real: f.real, Sound: f.sound, Make: f.make, Aubio: f.aubio, Slow: f.slow, Hours: f.hours,
		Sets: data.Cache{Dir: f.sets, Root: f.root, Log: c.ErrOrStderr()},
	})
	if sections, err = f.chosen(c, sections); err != nil {
		return err
	}
	text, failed := report.Update(c.Context(), string(old), sections, c.ErrOrStderr())
	if text == "" {
		return failed
	}
	return errors.Join(files.WriteBytes(path, []byte(text)), failed)
}

// chosen marks the sections that were not asked for as missing.
func (f *reportFlags) chosen(c *cobra.Command, sections []report.Section) ([]report.Section, error) {
	if len(f.only) == 0 {
		return sections, nil
	}
	begins := func(title string) func(string) bool {
		return func(asked string) bool { return strings.HasPrefix(strings.ToLower(title), strings.ToLower(asked)) }
	}
	for _, asked := range f.only {
		if !slices.ContainsFunc(sections, func(s report.Section) bool { return begins(s.Title)(asked) }) {
			return nil, usage(c, "no table is called %q", asked)
		}
	}
	out := slices.Clone(sections)
	for i := range out {
		if !slices.ContainsFunc(f.only, begins(out[i].Title)) {
			out[i].Missing = report.NotAsked
		}
	}
	return out, nil
}
