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
	all, check bool
	root, sets string
}

func newFitCommand() *cobra.Command {
	var f fitFlags
	c := &cobra.Command{
		Use:   "fit MODEL",
		Short: "Fit a model of blowdraw, or all of them",
		Long: `Fits a model to its sets of clips and writes its file into the repository, with
checksums of what it stands on: the ear's weights and other models. The sets are
made where they are not there yet, and kept. Prints how right the model is on what
it was not fitted to, and the old numbers beside the new ones.

  --all    fits every model, those first that others stand on; each by a program
           that is built with the files of those before it
  --check  only tells which files were fitted with something that has changed
           since; the exit code is 1 if there is one

Models: ` + strings.Join(modelNames(), ", "),
		Example: `  blowdraw-lab fit calibration
  blowdraw-lab fit --check`,
		RunE: f.run,
	}
	c.Flags().BoolVar(&f.all, "all", false, "fit every model")
	c.Flags().BoolVar(&f.check, "check", false, "tell which models are stale")
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

func (f *fitFlags) run(c *cobra.Command, args []string) error {
	if err := atMostOne(c, "all", "check"); err != nil {
		return err
	}
	if wanted := !f.all && !f.check; wanted && len(args) != 1 {
		return usage(c, "want one model, got %d", len(args))
	} else if !wanted && len(args) > 0 {
		return usage(c, "%q is one word too many", args[0])
	}
	if _, err := os.Stat(filepath.Join(f.root, "go.mod")); err != nil {
		return fmt.Errorf("%s is not the repository: %w", f.root, err)
	}
	all, err := fit.Order(models.All())
	switch {
	case err != nil:
		return err
	case f.check:
		return checkModels(c.OutOrStdout(), f.root, all)
	case f.all:
		return f.fitAll(c.Context(), c.OutOrStdout(), c.ErrOrStderr(), all)
	}
	m, err := fit.Find(all, args[0])
	if err != nil {
		return usageError{err, c.CommandPath()}
	}
	sets := data.Cache{Dir: f.sets, Root: f.root, Log: c.ErrOrStderr()}
	return fit.Run(c.Context(), c.OutOrStdout(), f.root, all, m, sets)
}

// checkModels tells of every model that has a function whether its file stands.
func checkModels(w io.Writer, root string, all []fit.Model) error {
	stale := 0
	for _, m := range all {
		if m.Fit == nil {
			fmt.Fprintf(w, "%s: its numbers lie in Go code; %s\n", m.Name, m.Until)
			continue
		}
		s, err := fit.Check(root, all, m)
		if err != nil {
			return err
		}
		fmt.Fprintln(w, s)
		if s.Stale() {
			stale++
		}
	}
	if stale > 0 {
		return fmt.Errorf("models to be fitted again: %d", stale)
	}
	return nil
}

// fitAll fits one model after the other, each by a program of its own: numbers are
// embedded into the program, so that it has to be built again after each.
func (f *fitFlags) fitAll(ctx context.Context, stdout, stderr io.Writer, all []fit.Model) error {
	sets, err := filepath.Abs(f.sets)
	if err != nil {
		return err
	}
	var left []string
	for _, m := range all {
		if m.Fit == nil {
			left = append(left, m.Name)
			continue
		}
		run := exec.CommandContext(ctx, "go", "run", "./cmd/blowdraw-lab", "fit", "--sets", sets, m.Name)
		run.Dir, run.Stdout, run.Stderr = f.root, stdout, stderr
		if err := run.Run(); err != nil {
			return fmt.Errorf("fitting %s: %w", m.Name, errors.Join(ctx.Err(), err))
		}
	}
	if len(left) > 0 {
		return fmt.Errorf("not fitted, since nothing here fits them yet: %s", strings.Join(left, ", "))
	}
	return nil
}
