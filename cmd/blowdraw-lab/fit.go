package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"blowdraw/tabber/lab/data"
	"blowdraw/tabber/lab/fit"
	"blowdraw/tabber/lab/models"

	"github.com/spf13/cobra"
)

// fitFlags are what the fit command can be told.
type fitFlags struct {
	all, check, keep, dry bool
	search                int
	root, sets, bench     string
	measure               []string
}

func newFitCommand() *cobra.Command {
	var f fitFlags
	c := &cobra.Command{
		Use:   "fit MODEL",
		Short: "Fit a model of blowdraw, or all of them",
		Long: `Fits a model to its sets of clips and writes its files into the repository, with
checksums of what it stands on: the ear's weights and other models. The sets are
made where they are not there yet, and kept. Prints how right the model is on what
it was not fitted to, and the old numbers beside the new ones.

  --all     fits every model, those first that others stand on; each by a program
            that is built with the files of those before it. Then prints what the
            sets of --measure, and the bench, had before and have now
  --search  the numbers of the model decision are found by a search that takes
            hours; it is made in so many rounds at most. Without this flag --all
            keeps them as they are
  --keep    leaves a model's numbers as they are, and writes that they stand on
            what there is now
  --check   only tells which files were fitted with something that has changed
            since; the exit code is 1 if there is one

Models: ` + strings.Join(modelNames(), ", "),
		Example: `  blowdraw-lab fit --dry-run confidence
  blowdraw-lab fit --all --bench bench
  blowdraw-lab fit --check`,
		RunE: f.run,
	}
	c.Flags().BoolVar(&f.all, "all", false, "fit every model")
	c.Flags().BoolVar(&f.check, "check", false, "tell which models are stale")
	c.Flags().BoolVar(&f.keep, "keep", false, "keep the numbers, for what there is now")
	c.Flags().BoolVar(&f.dry, "dry-run", false, "write no file")
	c.Flags().IntVar(&f.search, "search", 0, "search the numbers of the decision, in `ROUNDS` at most")
	c.Flags().StringSliceVar(&f.measure, "measure", []string{"hard-99", "played-701"},
		"with --all: the `SETS` on which before and after are compared")
	c.Flags().StringVar(&f.bench, "bench", "", "with --all: compare on the clips of this `FOLDER`, too")
	c.Flags().StringVar(&f.root, "root", ".", "`FOLDER` of the repository")
	addSets(c, &f.sets)
	return c
}

// addSets adds the flag for the folder that keeps sets of clips.
func addSets(c *cobra.Command, sets *string) {
	usual := "sets"
	if cache, err := os.UserCacheDir(); err == nil {
		usual = filepath.Join(cache, "blowdraw-lab")
	}
	c.Flags().StringVar(sets, "sets", usual, "`FOLDER` that keeps the sets of clips")
}

func modelNames() []string {
	var out []string
	for _, m := range models.All() {
		out = append(out, m.Name)
	}
	return out
}

// checkFlags that go together, and how many models are named.
func (f *fitFlags) checkFlags(c *cobra.Command, args []string) error {
	for _, with := range [][]string{{"all", "check", "keep"}, {"check", "search"}, {"keep", "search"}, {"check", "dry-run"}} {
		if err := atMostOne(c, with...); err != nil {
			return err
		}
	}
	if one := !f.all && !f.check; one && len(args) != 1 {
		return usage(c, "want one model, got %d", len(args))
	} else if !one && len(args) > 0 {
		return usage(c, "%q is one word too many", args[0])
	}
	for _, name := range []string{"bench", "measure"} {
		if c.Flags().Changed(name) && !f.all {
			return usage(c, "--%s has nothing to do without --all", name)
		}
	}
	if f.search < 0 {
		return usage(c, "--search wants a number of rounds")
	}
	return nil
}

func (f *fitFlags) run(c *cobra.Command, args []string) error {
	if err := f.checkFlags(c, args); err != nil {
		return err
	}
	if _, err := os.Stat(filepath.Join(f.root, "go.mod")); err != nil {
		return fmt.Errorf("%s is not the repository: %w", f.root, err)
	}
	all, err := fit.Order(models.All())
	if err != nil {
		return err
	}
	l := fit.Lab{
		Root: f.root, Models: all, Sets: data.Cache{Dir: f.sets, Root: f.root, Log: c.ErrOrStderr()},
		Log: c.OutOrStdout(), Dry: f.dry, Rounds: f.search,
	}
	switch {
	case f.check:
		return checkModels(l)
	case f.all:
		return f.fitAll(c.Context(), l, c.ErrOrStderr())
	}
	m, err := fit.Find(all, args[0])
	switch {
	case err != nil:
		return usageError{err, c.CommandPath()}
	case f.keep:
		return l.Keep(m)
	}
	return l.Run(c.Context(), m)
}

// checkModels tells of every model whether its files stand.
func checkModels(l fit.Lab) error {
	stale := 0
	for _, m := range l.Models {
		s, err := fit.Check(l.Root, l.Models, m)
		if err != nil {
			return err
		}
		fmt.Fprint(l.Log, s)
		if s.Stale() {
			stale++
			fmt.Fprintf(l.Log, ": %s", m.Command())
		}
		fmt.Fprintln(l.Log)
	}
	if stale > 0 {
		return fmt.Errorf("models to be fitted again: %d", stale)
	}
	return nil
}

// fitAll fits one model after the other, and compares what the program does before and
// after.
func (f *fitFlags) fitAll(ctx context.Context, l fit.Lab, stderr io.Writer) error {
	sets, err := filepath.Abs(f.sets)
	if err != nil {
		return err
	}
	p := program{root: l.Root, stdout: l.Log, stderr: stderr}
	var on []string
	if !f.dry {
		if on, err = f.measured(ctx, l.Sets); err != nil {
			return err
		}
	}
	before, err := p.measure(ctx, on)
	if err != nil {
		return fmt.Errorf("measuring before the fits: %w", err)
	}
	for _, m := range l.Models {
		if m.Fit == nil || m.Searched && f.search == 0 {
			if err := l.Keep(m); err != nil {
				return err
			}
			continue
		}
		args := []string{"fit", "--sets", sets, m.Name}
		if m.Searched {
			args = append(args, "--search", fmt.Sprint(f.search))
		}
		if f.dry {
			args = append(args, "--dry-run")
		}
		if err := p.run(ctx, args...); err != nil {
			return fmt.Errorf("fitting %s: %w", m.Name, err)
		}
	}
	after, err := p.measure(ctx, on)
	if err != nil {
		return fmt.Errorf("measuring after the fits: %w", err)
	}
	for i, dir := range on {
		printBeside(l.Log, dir, before[i], after[i])
	}
	return nil
}

// measured are the folders on which before and after are compared.
func (f *fitFlags) measured(ctx context.Context, sets data.Cache) ([]string, error) {
	var out []string
	if f.bench != "" {
		out = append(out, f.bench)
	}
	for _, name := range f.measure {
		r, err := data.Find(name)
		if err != nil {
			return nil, err
		}
		dir, err := sets.Get(ctx, r)
		if err != nil {
			return nil, err
		}
		out = append(out, dir)
	}
	for i := range out {
		var err error
		if out[i], err = filepath.Abs(out[i]); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// program is this one, built anew from the repository each time that it is run, since
// fitted numbers are embedded into it.
type program struct {
	root           string
	stdout, stderr io.Writer
}

func (p program) run(ctx context.Context, args ...string) error {
	run := exec.CommandContext(ctx, "go", append([]string{"run", "./cmd/blowdraw-lab"}, args...)...)
	run.Dir, run.Stdout, run.Stderr = p.root, p.stdout, p.stderr
	if err := run.Run(); err != nil {
		return errors.Join(ctx.Err(), err)
	}
	return nil
}
