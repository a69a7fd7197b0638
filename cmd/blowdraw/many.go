package main

import (
	"bytes"
	"context"
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

	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// manyFlags are what several recordings at once need besides.
type manyFlags struct {
	dir   string
	jobs  int
	again bool
}

func (f *manyFlags) add(c *cobra.Command) {
	c.Flags().StringVar(&f.dir, "dir", "", "write the tabs of several recordings into this folder (default: beside each recording)")
	c.Flags().IntVar(&f.jobs, "jobs", runtime.GOMAXPROCS(0), "how many recordings at a time")
	c.Flags().BoolVar(&f.again, "again", false, "several recordings: transcribe also those whose tab is up to date")
}

// many reports whether the arguments ask for more than one recording on the
// screen or in a file of its own.
func (f *manyFlags) many(args []string) bool {
	if len(args) > 1 || f.dir != "" {
		return true
	}
	info, err := os.Stat(args[0])
	return err == nil && info.IsDir()
}

// check refuses flags that the number of recordings makes senseless.
func (f *manyFlags) check(c *cobra.Command, args []string) error {
	if f.jobs < 1 {
		return usage(c, "--jobs %d: want 1 or more", f.jobs)
	}
	if f.many(args) {
		for _, name := range []string{"output", "find"} {
			if c.Flags().Changed(name) {
				return usage(c, "--%s is for one recording; for several there is --dir", name)
			}
		}
		return nil
	}
	for _, name := range []string{"jobs", "again"} {
		if c.Flags().Changed(name) {
			return usage(c, "--%s is for several recordings or a folder", name)
		}
	}
	return nil
}

// recording is one of several, and what became of it.
type recording struct {
	path, output string
	err          error
	state        string // as the table says it
	harp         string
	notes, sure  int
}

// What became of a recording, beside failures.
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

// gather lists the recordings that the arguments name, each once, and where the
// tab of each goes.
func (f *manyFlags) gather(args []string, extension string) []*recording {
	var list []*recording
	known := map[string]bool{}
	taken := map[string]string{} // output to recording
	add := func(path, below string, err error) {
		if path = filepath.Clean(path); known[path] {
			return
		}
		known[path] = true
		r := &recording{path: path, output: replaceExtension(path, extension), err: err}
		if f.dir != "" {
			r.output = filepath.Join(f.dir, replaceExtension(below, extension))
		}
		if other := taken[r.output]; other != "" && err == nil {
			r.err = fmt.Errorf("%s: its tab would have the name of that of %s", path, other)
		}
		taken[r.output] = path
		list = append(list, r)
	}
	for _, arg := range args {
		if info, err := os.Stat(arg); err != nil || !info.IsDir() {
			add(arg, filepath.Base(arg), nil)
			continue
		}
		found, err := recordingsIn(arg)
		if err == nil && len(found) == 0 {
			err = fmt.Errorf("%s: no recordings in this folder", arg)
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

func replaceExtension(path, extension string) string {
	return strings.TrimSuffix(path, filepath.Ext(path)) + extension
}

// recordingsIn lists what looks like a recording in a folder and the folders in
// it, relative to it. Hidden ones are passed over.
func recordingsIn(folder string) ([]string, error) {
	extensions := directly
	if _, err := exec.LookPath("ffmpeg"); err == nil {
		extensions = slices.Concat(directly, throughFFmpeg)
	}
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

// runMany transcribes every recording that the arguments name into a file of its
// own. What fails is told at the end and stops nothing else.
func (f *transcribeFlags) runMany(c *cobra.Command, t task, args []string) error {
	list := f.many.gather(args, "."+f.format)
	wanted, err := wantedOf(c)
	if err != nil {
		return err
	}
	stderr := c.ErrOrStderr()
	bar := newProgress(stderr, 0)
	var mu sync.Mutex // bar, done, stderr
	done := 0
	finished := func(warnings []byte) {
		mu.Lock()
		defer mu.Unlock()
		bar.done()
		stderr.Write(warnings)
		if done++; done < len(list) {
			bar.show(fmt.Sprintf("%d of %s done", done, count(len(list), "recording")))
		}
	}
	queue := make(chan *recording)
	var wg sync.WaitGroup
	for range min(f.many.jobs, len(list)) {
		wg.Go(func() {
			for r := range queue {
				var warnings bytes.Buffer
				if r.err == nil {
					r.err = f.transcribeTo(c.Context(), &warnings, t, wanted, r)
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
	if err := c.Context().Err(); err != nil {
		return err
	}
	return tellMany(c, list)
}

// transcribeTo transcribes one of several recordings into its file, unless what is
// there is up to date or not to be touched.
func (f *transcribeFlags) transcribeTo(ctx context.Context, stderr io.Writer, t task, wanted wanted, r *recording) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	key, err := wanted.key(r.path)
	if err != nil {
		return err
	}
	force, err := f.mayWrite(r, key)
	if err != nil || r.state != "" {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(r.output), 0o755); err != nil {
		return cannotWrite(r.output, err)
	}
	if err := checkWritable(r.output, force); err != nil {
		return err
	}
	d, err := f.document(ctx, stderr, r.path, t)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := t.write(&b, d); err != nil {
		return cannotWrite(r.output, err)
	}
	// Somebody may have edited the file meanwhile.
	if force, err = f.mayWrite(r, key); err != nil || r.state != "" {
		return err
	}
	if err := record(r.output, key, b.Bytes()); err != nil {
		return cannotWrite(r.output, err)
	}
	err = writeFile(r.output, force, func(w io.Writer) error {
		_, err := w.Write(b.Bytes())
		return err
	})
	if err != nil {
		return err
	}
	r.state = written
	r.tally(d)
	return nil
}

// mayWrite reports whether a file that is there may be overwritten. It sets the
// state of the recording if there is nothing to do.
func (f *transcribeFlags) mayWrite(r *recording, key string) (force bool, err error) {
	if sameFile(r.path, r.output) {
		return false, fmt.Errorf("%s: its tab would have its own name", r.path)
	}
	switch standing, err := standingOf(r.output, key); {
	case err != nil:
		return false, cannotWrite(r.output, err)
	case standing == fileCurrent && !f.many.again:
		r.state = upToDate
	case standing == fileForeign && !f.force:
		r.state = kept
	}
	return true, nil
}

// tally counts the notes of the tab, and those that are not in doubt.
func (r *recording) tally(d tab.Document) {
	r.harp = harpName(d.Harp)
	r.notes = len(d.Events)
	for _, e := range d.Events {
		if !e.Doubtful() {
			r.sure++
		}
	}
}

// tellMany prints what became of each recording, and then why some failed.
func tellMany(c *cobra.Command, list []*recording) error {
	if len(list) == 1 && list[0].err != nil {
		return list[0].err
	}
	rows := [][]string{{"recording", "tab", "harp", "notes", "sure", ""}}
	var failed []error
	tally := map[string]int{}
	for _, r := range list {
		row := []string{r.path, r.output, r.harp, "", "", r.state}
		switch {
		case r.err != nil:
			row[1], row[5] = "", "failed"
			failed = append(failed, r.err)
		case r.state == written:
			row[3], row[4] = fmt.Sprint(r.notes), fmt.Sprintf("%.0f%%", 100*float64(r.sure)/float64(r.notes))
		}
		tally[r.state]++
		rows = append(rows, row)
	}
	var b bytes.Buffer
	printColumns(&b, rows)
	fmt.Fprintf(&b, "\n%s: %d written, %d up to date, %d kept, %d failed.\n", count(len(list), "recording"),
		tally[written], tally[upToDate], tally[kept], len(failed))
	if tally[kept] > 0 {
		b.WriteString("Kept are files that have been edited, or were not written by such a run; --force overwrites them.\n")
	}
	if _, err := c.OutOrStdout().Write(b.Bytes()); err != nil {
		return err
	}
	if len(failed) == 0 {
		return nil
	}
	return &manyError{failed, len(list)}
}

// manyError is the failure of some of several recordings.
type manyError struct {
	failed []error
	of     int
}

func (e *manyError) Error() string {
	s := fmt.Sprintf("%d of %s failed", len(e.failed), count(e.of, "recording"))
	for _, err := range e.failed {
		s += fmt.Sprintf("\n  %v", err)
		if hint := hintFor(err); hint != "" {
			s += "\n    " + hint
		}
	}
	return s
}
