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
// over several recordings or tabs, a line for every file: what stands in made. A
// file whose content is on no line has been edited since, or comes from elsewhere,
// and is a player's own. Lines are only added, and before the file itself is
// replaced, so that a run may end at any moment.
const madeName = ".blowdraw-made"

// made is a file that was written, and what from.
type made struct {
	content string // its checksum
	key     string // checksum of all that it was made from
	name    string // in the folder
	from    string // the recording or tab, as sourceOf names it
}

// madeLine is how fmt writes and reads a line: names are quoted as in Go.
const madeLine = "%s %s %q %q\n"

// Standing of a file against what would be written in its place.
const (
	fileMissing = iota
	fileCurrent // just that
	fileStale   // written here from the same recording or tab, but that or something else has changed
	fileOthers  // written here from another one
	fileForeign // not as it was written here
)

// sourceOf names what an output is made from as seen from the output's folder, so
// that both can be moved together.
func sourceOf(input, output string) string {
	in := absolute(input)
	if rel, err := filepath.Rel(filepath.Dir(absolute(output)), in); err == nil {
		in = rel
	}
	return filepath.ToSlash(in)
}

// standingOf a file against what m says would be written. The content of m does
// not count. If the file is another recording's, it is named.
func standingOf(path string, m made) (standing int, other string, err error) {
	content, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return fileMissing, "", nil
	}
	if err != nil {
		return fileForeign, "", err
	}
	lines, err := os.ReadFile(filepath.Join(filepath.Dir(path), madeName))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fileForeign, "", err
	}
	standing, sum := fileForeign, checksum(content)
	for line := range strings.Lines(string(lines)) {
		var was made
		if _, err := fmt.Sscanf(line, madeLine, &was.content, &was.key, &was.name, &was.from); err != nil {
			continue // it was not written to its end
		}
		switch {
		case was.content != sum || was.name != filepath.Base(path):
		case was.key == m.key:
			return fileCurrent, "", nil
		case was.from == m.from:
			standing, other = fileStale, ""
		default: // the last line tells whose the file is now
			standing, other = fileOthers, was.from
		}
	}
	return standing, other, nil
}

// record notes that content is about to be written to a file.
func record(path string, m made, content []byte) error {
	f, err := os.OpenFile(filepath.Join(filepath.Dir(path), madeName), os.O_APPEND|os.O_CREATE|os.O_RDWR,
		0o644)
	if err != nil {
		return err
	}
	line := fmt.Sprintf(madeLine, checksum(content), m.key, filepath.Base(path), m.from)
	if !endsLine(f) { // the disk was full, or the power went
		line = "\n" + line
	}
	_, err = f.WriteString(line)
	return errors.Join(err, f.Close())
}

// endsLine reports whether a file is empty or ends with a whole line.
func endsLine(f *os.File) bool {
	info, err := f.Stat()
	if err != nil || info.Size() == 0 {
		return true
	}
	last := make([]byte, 1)
	_, err = f.ReadAt(last, info.Size()-1)
	return err != nil || last[0] == '\n'
}

func checksum(content []byte) string {
	h := sha256.New()
	h.Write(content)
	return short(h)
}

func short(h hash.Hash) string { return hex.EncodeToString(h.Sum(nil)[:16]) }

// wanted stands for all that an output is made from beside its input: the program
// with its weights, the flags, and the files that flags name.
type wanted string

// notAsked are the flags that change nothing in an output.
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

// key stands for all that the output is made from.
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
