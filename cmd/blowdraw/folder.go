package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// folderFile is a file of a folder that is written as a whole. Its name has slashes; about
// says what is in it.
type folderFile struct {
	name, about string
	write       func(io.Writer) error
}

// checkFolder tells before the work whether writeFolder will be able to write a folder.
func checkFolder(dir string) error {
	info, err := os.Stat(dir)
	switch {
	case err == nil && !info.IsDir():
		return cannotWrite(dir, errors.New("it is not a folder"))
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return cannotWrite(dir, err)
	}
	made, err := os.MkdirTemp(folderBeside(dir), ".blowdraw-*")
	if err != nil {
		return cannotWrite(dir, err)
	}
	return cannotWrite(dir, os.Remove(made))
}

// folderBeside is where the files of a folder are written first: in itself if it is there,
// so that they are on the same disk, or else beside it.
func folderBeside(dir string) string {
	if exists(dir) {
		return dir
	}
	return filepath.Dir(filepath.Clean(dir))
}

// writeFolder writes the files of a folder, all or none: into a new folder that then takes
// its name or, if there is one already, gives its files to it. Files that are there are
// kept unless force is set, and then none is written.
func writeFolder(dir string, force bool, files []folderFile) (err error) {
	there := exists(dir)
	if there && !force {
		for _, f := range files {
			if path := filepath.Join(dir, filepath.FromSlash(f.name)); exists(path) {
				return cannotWrite(path, fs.ErrExist)
			}
		}
	}
	made, err := os.MkdirTemp(folderBeside(dir), ".blowdraw-*")
	if err != nil {
		return cannotWrite(dir, err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(made)) }() // gone already once renamed
	for _, f := range files {
		if err := putFile(filepath.Join(made, filepath.FromSlash(f.name)), f.write); err != nil {
			return cannotWrite(filepath.Join(dir, filepath.FromSlash(f.name)), err)
		}
	}
	if !there {
		return cannotWrite(dir, errors.Join(os.Chmod(made, 0o755), os.Rename(made, dir)))
	}
	for _, f := range files {
		to := filepath.Join(dir, filepath.FromSlash(f.name))
		err := os.MkdirAll(filepath.Dir(to), 0o755)
		if err == nil {
			err = os.Rename(filepath.Join(made, filepath.FromSlash(f.name)), to)
		}
		if err != nil {
			return cannotWrite(to, err)
		}
	}
	return nil
}

// putFile writes a new file and the folder that it lies in.
func putFile(path string, write func(io.Writer) error) error {
	var b bytes.Buffer
	if err := write(&b); err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return fmt.Errorf("making its folder: %w", err)
	}
	return os.WriteFile(path, b.Bytes(), 0o644)
}
