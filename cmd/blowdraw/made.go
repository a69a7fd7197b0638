package main

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// madeName is the file in each folder that tells what was written there by a run
// over several recordings: a line for every file, with the checksum of its
// content, a checksum of all that it was made from, and its name. A file whose
// content is on no line has been edited since, or comes from elsewhere, and is a
// player's own. Lines are only added, and before the file itself is replaced, so
// that a run may end at any moment.
const madeName = ".blowdraw-made"

// Standing of a file against what would be written in its place.
const (
	fileMissing = iota
	fileCurrent // just that
	fileStale   // written here, but from something else
	fileForeign // not as it was written here
)

// standingOf a file for which the key stands for what it would be made from.
func standingOf(path, key string) (int, error) {
	content, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return fileMissing, nil
	}
	if err != nil {
		return fileForeign, err
	}
	lines, err := os.ReadFile(filepath.Join(filepath.Dir(path), madeName))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fileForeign, err
	}
	standing := fileForeign
	for line := range strings.Lines(string(lines)) {
		f := strings.SplitN(strings.TrimSuffix(line, "\n"), " ", 3)
		if len(f) < 3 || f[0] != checksum(content) || f[2] != filepath.Base(path) {
			continue
		}
		if f[1] == key {
			return fileCurrent, nil
		}
		standing = fileStale
	}
	return standing, nil
}

// record notes that content is about to be written to a file.
func record(path, key string, content []byte) error {
	f, err := os.OpenFile(filepath.Join(filepath.Dir(path), madeName), os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(f, "%s %s %s\n", checksum(content), key, filepath.Base(path))
	return errors.Join(err, f.Close())
}

func checksum(content []byte) string {
	h := sha256.New()
	h.Write(content)
	return short(h)
}

func short(h hash.Hash) string { return hex.EncodeToString(h.Sum(nil)[:16]) }

// wanted stands for all that a tab is made from beside the recording: the program
// with its weights, the flags, and the files that flags name.
type wanted string

// notAsked are the flags that change nothing in a tab.
var notAsked = []string{"dir", "jobs", "again", "force", "output", "help"}

// fileFlags may name files.
var fileFlags = []string{"layout", "taps"}

func wantedOf(c *cobra.Command) (wanted, error) {
	h := sha256.New()
	program, err := os.Executable()
	if err == nil {
		err = addFile(h, program)
	}
	if err != nil {
		return "", fmt.Errorf("reading the program itself: %w", err)
	}
	c.Flags().VisitAll(func(f *pflag.Flag) {
		if !slices.Contains(notAsked, f.Name) {
			fmt.Fprintf(h, "%s=%q\n", f.Name, f.Value)
		}
		if slices.Contains(fileFlags, f.Name) && f.Changed {
			err = errors.Join(err, addFile(h, f.Value.String()))
		}
	})
	if err != nil && !errors.Is(err, fs.ErrNotExist) { // a layout may be built in
		return "", err
	}
	return wanted(short(h)), nil
}

// addFile adds the content of a regular file to a checksum.
func addFile(h hash.Hash, path string) error {
	info, err := os.Stat(path)
	if err != nil {
		return err
	}
	if !info.Mode().IsRegular() {
		return &fs.PathError{Op: "read", Path: path, Err: errors.New("not a regular file")}
	}
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	_, err = io.Copy(h, f)
	return err
}

// key stands for all that the tab of a recording is made from.
func (w wanted) key(path string) (string, error) {
	h := sha256.New()
	fmt.Fprintf(h, "%s %s\n", w, filepath.Base(path))
	if err := addFile(h, path); err != nil {
		if e, ok := errors.AsType[*fs.PathError](err); ok {
			err = e.Err
		}
		return "", fmt.Errorf("%s: %w", path, err)
	}
	return short(h), nil
}
