// Command blowdraw-lab makes clips with exactly known truth, measures how right blowdraw
// is on them, and fits its models. Only developers run it; blowdraw itself has nothing of
// it.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"

	"blowdraw/tabber/lab/measure"

	"github.com/spf13/cobra"
)

// Exit codes.
const (
	exitFailed = 1
	exitUsage  = 2
)

func main() {
	if code, asked := measure.Costly(os.Args[1:]); asked {
		os.Exit(code)
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // a second Ctrl-C ends the program at once
	os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr))
}

// run executes one command line and returns its exit code.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	root := newRoot()
	root.SetOut(stdout)
	root.SetErr(stderr)
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return 0
	}
	if errors.Is(err, context.Canceled) {
		fmt.Fprintln(stderr, "blowdraw-lab: stopped")
		return exitFailed
	}
	fmt.Fprintf(stderr, "blowdraw-lab: %v\n", err)
	if e, ok := errors.AsType[usageError](err); ok {
		fmt.Fprintf(stderr, "Try: %s --help\n", e.command)
		return exitUsage
	}
	return exitFailed
}

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "blowdraw-lab",
		Short: "Make clips with known truth, measure blowdraw on them, fit its models",
		Long: `Makes clips with exactly known truth, measures how right blowdraw is on them,
writes the table of results, and fits the models.

Exit codes: 0 done; 1 something failed, and is told on standard error; 2 the
command line is wrong. A file is written whole or not at all.`,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 0 {
				return usage(c, "unknown command %q", args[0])
			}
			return nil
		},
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error { return usageError{err, c.CommandPath()} })
	root.CompletionOptions.DisableDefaultCmd = true
	root.AddCommand(newMakeCommand(), newMeasureCommand(), newReportCommand(), newFuzzCommand(), newFitCommand())
	return root
}

// usageError is a command line that can't be understood.
type usageError struct {
	err     error
	command string
}

func (e usageError) Error() string { return e.err.Error() }
func (e usageError) Unwrap() error { return e.err }

func usage(c *cobra.Command, format string, args ...any) error {
	return usageError{fmt.Errorf(format, args...), c.CommandPath()}
}

// oneFolder wants one argument.
func oneFolder(c *cobra.Command, args []string) error {
	if len(args) != 1 || args[0] == "" {
		return usage(c, "want one folder, got %d", len(args))
	}
	return nil
}

// atMostOne says which two of some flags exclude each other, if two are given.
func atMostOne(c *cobra.Command, names ...string) error {
	given := ""
	for _, name := range names {
		switch {
		case !c.Flags().Changed(name):
		case given != "":
			return usage(c, "--%s and --%s exclude each other", given, name)
		default:
			given = name
		}
	}
	return nil
}
