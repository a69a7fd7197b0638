package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"

	"github.com/spf13/cobra"
)

// manyFlags are what several recordings or tabs at once need besides.
type manyFlags struct {
	dir   string
	jobs  int
	again bool
}

// add the flags for a command that writes a product, such as a tab, of each of
// several things.
func (f *manyFlags) add(c *cobra.Command, product, things string) {
	c.Flags().StringVar(&f.dir, "dir", "", fmt.Sprintf("write the %ss of several %s into this folder "+
		"(default: beside each)", product, things))
	c.Flags().IntVar(&f.jobs, "jobs", runtime.GOMAXPROCS(0), "how many "+things+" at a time")
	c.Flags().BoolVar(&f.again, "again", false, fmt.Sprintf("several %s: also those whose %s is up to date",
		things, product))
}

// many reports whether the arguments ask for more than one output on the screen or
// in a file of its own.
func (f *manyFlags) many(args []string) bool {
	if len(args) > 1 || f.dir != "" {
		return true
	}
	info, err := os.Stat(args[0])
	return err == nil && info.IsDir()
}

// check refuses flags that the number of arguments makes senseless; single are
// those that only one can have.
func (f *manyFlags) check(c *cobra.Command, args []string, single ...string) error {
	if f.jobs < 1 {
		return usage(c, "--jobs %d: want 1 or more", f.jobs)
	}
	if f.many(args) {
		for _, name := range single {
			if c.Flags().Changed(name) {
				return usage(c, "--%s is for a single file; for several there is --dir", name)
			}
		}
		if slices.Contains(args, stdinName) {
			return usage(c, "standard input (-) can't be one of several")
		}
		return nil
	}
	for _, name := range []string{"jobs", "again"} {
		if c.Flags().Changed(name) {
			return usage(c, "--%s is for several files or a folder", name)
		}
	}
	return nil
}

// batch is a command over several recordings or tabs.
type batch struct {
	*manyFlags
	force     bool
	thing     string // what is read: "recording" or "tab"
	product   string // what is written of each
	extension string // of that
	columns   []string
	// list finds the things in a folder, relative to it.
	list func(folder string) ([]string, error)
	// make the content of an output, and the cells of its columns in the table.
	make func(ctx context.Context, stderr io.Writer, path string) (content []byte, cells []string, err error)
}

// item is one of several recordings or tabs, and what became of it.
type item struct {
	path, output string
	err          error
	begun        bool
	state        string // as the table says it
	cells        []string
}

// What became of an item, beside failures.
const (
	written  = "written"
	upToDate = "up to date"
	kept     = "kept"
)

// Extensions of the recordings that are looked for in folders; others must be
// named. The second list is read through ffmpeg.
var (
	directly      = []string{".wav", ".mp3", ".flac", ".ogg", ".oga"}
	throughFFmpeg = []string{".m4a", ".mp4", ".aac", ".opus", ".aif", ".aiff", ".wma", ".caf", ".wv"}
)

// gather lists what the arguments name, each once, and where the output of each
// goes.
func (b *batch) gather(args []string) []*item {
	var list []*item
	known := map[string]bool{}
	taken := map[string]string{} // output to input
	add := func(path, below string, err error) {
		path = filepath.Clean(path)
		if known[absolute(path)] {
			return
		}
		known[absolute(path)] = true
		r := &item{path: path, output: replaceExtension(path, b.extension), err: err}
		if b.dir != "" {
			r.output = filepath.Join(b.dir, replaceExtension(below, b.extension))
		}
		if other := taken[absolute(r.output)]; other != "" && err == nil {
			r.err = b.taken(r, other)
		}
		taken[absolute(r.output)] = path
		list = append(list, r)
	}
	for _, arg := range args {
		if info, err := os.Stat(arg); err != nil || !info.IsDir() {
			add(arg, filepath.Base(arg), nil)
			continue
		}
		found, err := b.list(arg)
		if err == nil && len(found) == 0 {
			err = fmt.Errorf("%s: no %ss in this folder", arg, b.thing)
		}
		if err != nil {
			add(arg, filepath.Base(arg), err)
		}
		for _, below := range found {
			add(filepath.Join(arg, below), below, nil)
		}
	}
	return list
}

// absolute is the path from the root, or as it is where that is not known.
func absolute(path string) string {
	if abs, err := filepath.Abs(path); err == nil {
		return abs
	}
	return path
}

// takenError is an output that is another's already.
type takenError struct{ text string }

func (e *takenError) Error() string { return e.text }

func (b *batch) taken(r *item, other string) error {
	return &takenError{fmt.Sprintf("%s: its %s would be %s, which is that of %s",
		r.path, b.product, r.output, other)}
}

func replaceExtension(path, extension string) string {
	return strings.TrimSuffix(path, filepath.Ext(path)) + extension
}

// recordingsIn lists what looks like a recording in a folder and the folders in
// it, relative to it.
func recordingsIn(folder string) ([]string, error) {
	if _, err := exec.LookPath("ffmpeg"); err == nil {
		return filesIn(folder, slices.Concat(directly, throughFFmpeg))
	}
	return filesIn(folder, directly)
}

// tabsIn lists what looks like a tab in the same way.
func tabsIn(folder string) ([]string, error) { return filesIn(folder, []string{".tab"}) }

// filesIn lists the files of a folder, and of those in it, that have one of the
// extensions. Hidden ones are passed over.
func filesIn(folder string, extensions []string) ([]string, error) {
	var list []string
	err := filepath.WalkDir(folder, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return fmt.Errorf("reading the folder %s: %w", folder, err)
		case path != folder && strings.HasPrefix(d.Name(), "."):
			if d.IsDir() {
				return filepath.SkipDir
			}
		case !d.IsDir() && slices.Contains(extensions, strings.ToLower(filepath.Ext(path))):
			below, err := filepath.Rel(folder, path)
			list = append(list, below)
			return err
		}
		return nil
	})
	return list, err
}

// run makes the output of everything that the arguments name. What fails is told
// at the end and stops nothing else.
func (b *batch) run(c *cobra.Command, args []string) error {
	list := b.gather(args)
	wanted, err := wantedOf(c)
	if err != nil {
		return err
	}
	stderr := c.ErrOrStderr()
	bar := newProgress(stderr, "", 0)
	var mu sync.Mutex // bar, done, stderr
	done := 0
	finished := func(warnings []byte) {
		mu.Lock()
		defer mu.Unlock()
		bar.done()
		stderr.Write(warnings)
		if done++; done < len(list) {
			bar.show(fmt.Sprintf("%d of %s done", done, count(len(list), b.thing)))
		}
	}
	bar.show(fmt.Sprintf("0 of %s done", count(len(list), b.thing)))
	frugal(min(b.jobs, len(list)))
	queue := make(chan *item)
	var wg sync.WaitGroup
	for range min(b.jobs, len(list)) {
		wg.Go(func() {
			for r := range queue {
				var warnings bytes.Buffer
				if r.err == nil {
					r.err = b.one(c.Context(), &warnings, wanted, r)
				}
				finished(warnings.Bytes())
			}
		})
	}
	for _, r := range list {
		queue <- r
	}
	close(queue)
	wg.Wait()
	bar.done()
	if err := c.Context().Err(); err != nil {
		b.tellStopped(stderr, list)
		return err
	}
	return b.tell(c, list)
}

// tellStopped tells how far a run came that was stopped.
func (b *batch) tellStopped(w io.Writer, list []*item) {
	done, failed := 0, 0
	var underWay []string
	for _, r := range list {
		switch stopped := errors.Is(r.err, context.Canceled); {
		case r.state != "":
			done++
		case r.err != nil && !stopped:
			failed++
		case r.begun:
			underWay = append(underWay, printable(r.path))
		}
	}
	text := fmt.Sprintf("%d of %s done", done, count(len(list), b.thing))
	if failed > 0 {
		text += fmt.Sprintf(", %d failed", failed)
	}
	if len(underWay) > 0 {
		text += "; under way and not written: " + strings.Join(underWay, ", ")
	}
	same := "The same command line"
	if b.again {
		same += " without --again"
	}
	fmt.Fprintf(w, "blowdraw: %s. %s goes on from here.\n", text, same)
}

// one makes the output of an item, unless what is there is up to date or not to be
// touched.
func (b *batch) one(ctx context.Context, stderr io.Writer, wanted wanted, r *item) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	r.begun = true
	key, err := wanted.key(r.path)
	if err != nil {
		return err
	}
	m := made{key: key, from: sourceOf(r.path, r.output)}
	force, err := b.mayWrite(r, m)
	if err != nil || r.state != "" {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(r.output), 0o755); err != nil {
		return cannotWrite(r.output, err)
	}
	if err := checkWritable(r.output, force); err != nil {
		return err
	}
	content, cells, err := b.make(ctx, stderr, r.path)
	if err != nil {
		return err
	}
	// Somebody may have edited the file meanwhile.
	if force, err = b.mayWrite(r, m); err != nil || r.state != "" {
		return err
	}
	if err := record(r.output, m, content); err != nil {
		return cannotWrite(r.output, err)
	}
	err = writeFile(r.output, force, func(w io.Writer) error {
		_, err := w.Write(content)
		return err
	})
	if err != nil {
		return err
	}
	r.state, r.cells = written, cells
	return nil
}

// mayWrite reports whether a file that is there may be overwritten. It sets the
// state of the item if there is nothing to do.
func (b *batch) mayWrite(r *item, m made) (force bool, err error) {
	if sameFile(r.path, r.output) {
		return false, fmt.Errorf("%s: its %s would have its own name", r.path, b.product)
	}
	switch standing, other, err := standingOf(r.output, m); {
	case err != nil:
		return false, cannotWrite(r.output, err)
	case standing == fileMissing:
		return b.force, nil
	case standing == fileCurrent && !b.again:
		r.state = upToDate
	case standing == fileForeign && !b.force:
		r.state = kept
	case standing == fileOthers && !b.force:
		return false, b.taken(r, filepath.Join(filepath.Dir(r.output), filepath.FromSlash(other)))
	}
	return true, nil
}

// tell prints what became of each item, and then why some failed.
func (b *batch) tell(c *cobra.Command, list []*item) error {
	if len(list) == 1 && list[0].err != nil {
		return list[0].err
	}
	rows := [][]string{append(append([]string{b.thing, b.product}, b.columns...), "")}
	last := len(rows[0]) - 1
	var failed []error
	tally := map[string]int{}
	for _, r := range list {
		row := make([]string, last+1)
		row[0], row[1], row[last] = printable(r.path), printable(r.output), r.state
		copy(row[2:last], r.cells)
		if r.err != nil {
			row[1], row[last] = "", "failed"
			failed = append(failed, r.err)
		}
		tally[r.state]++
		rows = append(rows, row)
	}
	var out bytes.Buffer
	printColumns(&out, rows)
	fmt.Fprintf(&out, "\n%s: %d written, %d up to date, %d kept, %d failed.\n", count(len(list), b.thing),
		tally[written], tally[upToDate], tally[kept], len(failed))
	if tally[kept] > 0 {
		out.WriteString("Kept are files that have been edited, or were not written by such a run; --force " +
			"overwrites them.\n")
	}
	if _, err := c.OutOrStdout().Write(out.Bytes()); err != nil {
		return err
	}
	if len(failed) == 0 {
		return nil
	}
	return &manyError{failed, len(list), b.thing}
}

// manyError is the failure of some of several things.
type manyError struct {
	failed []error
	of     int
	thing  string
}

func (e *manyError) Error() string {
	s := fmt.Sprintf("%d of %s failed", len(e.failed), count(e.of, e.thing))
	for _, err := range e.failed {
		s += fmt.Sprintf("\n  %v", err)
		if hint := hintFor(err); hint != "" {
			s += "\n    " + hint
		}
	}
	return s
}
