// Command blowdraw writes rough, honest, editable harp tab from a recording.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime"
	"runtime/debug"
	"strings"
	"syscall"

	"blowdraw/decode"
	"blowdraw/tabber/page"

	"github.com/spf13/cobra"
)

// Exit codes.
const (
	exitFailed = 1
	exitUsage  = 2
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(50) // memory matters more than the little time that this costs
	}
	context.AfterFunc(ctx, stop) // a second Ctrl-C ends the program at once
	// A pipe whose reader has gone is a failed write, so that files are tidied up.
	signal.Notify(make(chan os.Signal, 1), syscall.SIGPIPE)
	os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr))
}

// run executes one command line and returns its exit code.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	out := &screen{w: stdout, clean: isTerminal(stdout)}
	stderr = &screen{w: stderr, clean: true}
	root := newRoot(out, stderr)
	root.SetArgs(args)
	err := dashed(args, root.ExecuteContext(ctx))
	if err == nil {
		err = out.err // which help and completion don't look at
	}
	if err == nil {
		return 0
	}
	switch {
	case errors.Is(err, syscall.EPIPE): // the reader has what it wanted
		return exitFailed
	case errors.Is(err, context.Canceled):
		fmt.Fprintln(stderr, "blowdraw: stopped")
		return exitFailed
	}
	fmt.Fprintf(stderr, "blowdraw: %s\n", printable(err.Error()))
	if hint := hintFor(err); hint != "" {
		fmt.Fprintln(stderr, hint)
	}
	if _, ok := errors.AsType[usageError](err); ok {
		return exitUsage
	}
	return exitFailed
}

func newRoot(stdout, stderr io.Writer) *cobra.Command {
	root := &cobra.Command{
		Use:     "blowdraw",
		Short:   "Rough, honest, editable harp tab from a recording",
		Version: version(),
		Long: `blowdraw listens to a section of a recording and writes down what was played
on the harp: when, which hole, which breath, how far bent, and how sure it is.

Exit codes: 0 done; 1 something failed, and is told on standard error; 2 the
command line is wrong. A file is written whole or not at all, whatever happens
meanwhile, and none is overwritten without --force.

Transcribe what you may: what is allowed for study depends on local law.`,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          noCommand,
		RunE:          func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return usageError{flagError(c, err), c.CommandPath()}
	})
	root.AddCommand(
		newTranscribeCommand(),
		newPhrasesCommand(),
		newStudyCommand(),
		newLayoutCommand(),
		newDemoCommand(),
		newCheckCommand(),
		newCompareCommand(),
		newRetabCommand(),
		newRefineCommand(),
		newTextureCommand(),
		newPageCommand(),
		newRenderCommand(),
		newSlowCommand(),
		newExportCommand(),
		newImportCommand(),
		newMarksCommand(),
		newHarpsCommand(),
		newTabCommand(),
		newLessonCommand(),
	)
	root.SetOut(stdout)
	root.SetErr(stderr)
	arrange(root) // which is when the completion scripts take stdout
	return root
}

// version is what the build says of itself.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	v := info.Main.Version
	for _, s := range info.Settings {
		switch {
		case s.Key == "vcs.revision" && !strings.Contains(v, s.Value[:min(12, len(s.Value))]):
			v += ", revision " + s.Value
		case s.Key == "vcs.modified" && s.Value == "true" && !strings.Contains(v, "dirty"):
			v += ", with changes"
		}
	}
	return fmt.Sprintf("%s, %s for %s/%s", v, info.GoVersion, runtime.GOOS, runtime.GOARCH)
}

// dashError is a file's name that was taken for a flag.
type dashError struct {
	name string
	err  error
}

func (e *dashError) Error() string { return e.err.Error() }
func (e *dashError) Unwrap() error { return e.err }

// dashed tells where a wrong command line has the name of a file that begins with a
// dash.
func dashed(args []string, err error) error {
	if _, ok := errors.AsType[usageError](err); !ok {
		return err
	}
	for _, a := range args {
		if a == "--" {
			break
		}
		if len(a) > 1 && a[0] == '-' {
			if _, no := os.Lstat(a); no == nil {
				return &dashError{a, err}
			}
		}
	}
	return err
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

func noArgs(c *cobra.Command, args []string) error {
	if len(args) > 0 {
		return usage(c, "%q is one word too many", args[0])
	}
	return nil
}

// noCommand says that what stands in a command's place is none.
func noCommand(c *cobra.Command, args []string) error {
	if len(args) > 0 {
		return usage(c, "unknown command %q%s", args[0], meant(c.Root(), args[0]))
	}
	return nil
}

// meant asks for the command that a wrong one is nearest to; empty if none is near.
func meant(root *cobra.Command, wrong string) string {
	var names []string
	for _, c := range root.Commands() {
		if c.IsAvailableCommand() {
			names = append(names, c.Name())
		}
	}
	if name := nearest(wrong, names); name != "" {
		return "; is " + name + " meant?"
	}
	return ""
}

// hintFor is the second line of an error: what to try.
func hintFor(err error) string {
	if e, ok := errors.AsType[*decode.Error](err); ok {
		return e.Hint
	}
	if e, ok := errors.AsType[*outputError](err); ok {
		return e.hint
	}
	if e, ok := errors.AsType[*unusableError](err); ok && strings.HasPrefix(e.err.Text, noDocument) {
		return "Tab without a header is read by blowdraw import, with --harp."
	}
	if _, ok := errors.AsType[*takenError](err); ok {
		return "Write them into different folders (--dir), or rename one of the two."
	}
	if _, ok := errors.AsType[*silentError](err); ok {
		return "Choose another section (--from, --to) or another channel (--channel)."
	}
	if _, ok := errors.AsType[*page.TooLongError](err); ok {
		return "Choose a shorter section, or leave the sound outside the page: --audio link."
	}
	if _, ok := errors.AsType[*misfitError](err); ok {
		return "Name the harp that plays, or move the pitch by hand (--cents); --force takes this one."
	}
	if _, ok := errors.AsType[*noEncoderError](err); ok {
		return "Install ffmpeg, or write .wav or .flac."
	}
	if _, ok := errors.AsType[*strangerError](err); ok {
		return "Give the recording that the tab is of; --force takes this one."
	}
	if e, ok := errors.AsType[*dashError](err); ok {
		return fmt.Sprintf("The file of that name is ./%s", printable(e.name))
	}
	if e, ok := errors.AsType[usageError](err); ok {
		return fmt.Sprintf("Try: %s --help", e.command)
	}
	return ""
}
