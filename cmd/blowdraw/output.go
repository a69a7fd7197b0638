package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"

	"github.com/spf13/cobra"
)

// outputError is a file that can't be written.
type outputError struct {
	path string
	err  error
	hint string
}

func (e *outputError) Error() string { return fmt.Sprintf("can't write %s: %v", e.path, e.err) }
func (e *outputError) Unwrap() error { return e.err }

// cannotWrite says why, without the names of temporary files.
func cannotWrite(path string, err error) error {
	if err == nil {
		return nil
	}
	hint := ""
	if errors.Is(err, fs.ErrExist) {
		err, hint = errors.New("it exists already"), "Add --force to overwrite it."
	} else if dir := filepath.Dir(path); errors.Is(err, fs.ErrNotExist) && !exists(dir) {
		err, hint = fmt.Errorf("there is no folder %s", dir), "Make it first, or choose another."
	} else if errors.Is(err, fs.ErrPermission) {
		err, hint = errors.New("you may not write there"), elsewhere
	} else {
		hint = roomHint(err)
	}
	if e, ok := errors.AsType[*fs.PathError](err); ok {
		err = e.Err
	} else if e, ok := errors.AsType[*os.LinkError](err); ok {
		err = e.Err
	}
	return &outputError{path, err, hint}
}

const elsewhere = "Choose another folder with -o or, for several files, --dir."

// roomHint says what to do where a disk takes no more; empty for what else may go wrong.
func roomHint(err error) string {
	switch {
	case errors.Is(err, syscall.ENOSPC):
		return "Make room there, or write elsewhere: -o or, for several files, --dir."
	case errors.Is(err, syscall.EDQUOT):
		return "You have stored there as much as you may: make room, or write elsewhere."
	case errors.Is(err, syscall.EFBIG):
		return "Files may not become that large there, or by your limits (ulimit -f)."
	case errors.Is(err, syscall.EROFS), errors.Is(err, syscall.ENOTDIR):
		return elsewhere
	}
	return ""
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// outputFlags say where a document is written to.
type outputFlags struct {
	file  string // empty: the screen
	force bool
}

func (f *outputFlags) add(c *cobra.Command) {
	c.Flags().StringVarP(&f.file, "output", "o", "", "write to this file instead of the screen")
	c.Flags().BoolVar(&f.force, "force", false, "overwrite the file")
}

// check before the work that there can be written.
func (f *outputFlags) check(c *cobra.Command) error {
	if f.file != "" {
		return checkWritable(f.file, f.force)
	}
	if c.Flags().Changed("output") {
		return usage(c, "--output: the name is empty")
	}
	return nil
}

// write to the file, or without one to the screen.
func (f *outputFlags) write(c *cobra.Command, write func(io.Writer) error) error {
	if f.file != "" {
		return writeFile(f.file, f.force, write)
	}
	return write(c.OutOrStdout())
}

// target is where a file is written whose name may be a link: to what it leads to, so
// that the link stays.
func target(path string) string {
	for range 40 { // as many as the system follows
		to, err := os.Readlink(path)
		if err != nil {
			break
		}
		if !filepath.IsAbs(to) {
			to = filepath.Join(filepath.Dir(path), to)
		}
		path = to
	}
	return path
}

// sameFile reports whether two names stand for one existing file.
func sameFile(a, b string) bool {
	infoA, errA := os.Stat(a)
	infoB, errB := os.Stat(b)
	return errA == nil && errB == nil && os.SameFile(infoA, infoB)
}

// checkWritable tells before the work whether writeFile will be able to write.
func checkWritable(path string, force bool) error {
	switch info, err := os.Stat(path); {
	case err == nil && info.IsDir():
		return cannotWrite(path, errors.New("it is a folder"))
	case err == nil && !info.Mode().IsRegular():
		return cannotWrite(path, errors.New("it is not a regular file"))
	case err == nil && !force:
		return cannotWrite(path, fs.ErrExist)
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return cannotWrite(path, err)
	}
	f, err := temporary(target(path))
	if err != nil {
		return cannotWrite(path, err)
	}
	return cannotWrite(path, errors.Join(f.Close(), os.Remove(f.Name())))
}

// temporary is a new file beside path. Its name has nothing of the path's, which may be
// as long as names can be.
func temporary(path string) (*os.File, error) {
	return os.CreateTemp(filepath.Dir(path), ".blowdraw-*")
}

// writeFile writes a file whole or not at all: to a temporary file beside it
// that then takes its name. An existing file is kept unless force is set; of a link
// what it leads to is written.
func writeFile(path string, force bool, write func(io.Writer) error) error {
	if err := checkWritable(path, force); err != nil {
		return err
	}
	var b bytes.Buffer
	if err := write(&b); err != nil {
		return cannotWrite(path, err)
	}
	to := target(path)
	f, err := temporary(to)
	if err != nil {
		return cannotWrite(path, err)
	}
	defer os.Remove(f.Name()) // gone already once renamed
	_, err = f.Write(b.Bytes())
	if err := errors.Join(err, f.Chmod(0o644), f.Close()); err != nil {
		return cannotWrite(path, err)
	}
	if force {
		return cannotWrite(path, os.Rename(f.Name(), to))
	}
	err = os.Link(f.Name(), to) // fails if the file has appeared meanwhile
	if err != nil && !errors.Is(err, fs.ErrExist) {
		err = os.Rename(f.Name(), to) // no hard links here
	}
	return cannotWrite(path, err)
}
