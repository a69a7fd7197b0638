// Package files writes files whole or not at all.
package files

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
)

// Write writes a file whole or not at all: first beside it under another name, which is
// then changed. An older file of that name is replaced.
func Write(path string, write func(io.Writer) error) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".blowdraw-lab-*")
	if err != nil {
		return fmt.Errorf("writing %s: %w", path, err)
	}
	defer os.Remove(f.Name()) // gone already once renamed
	if err := errors.Join(write(f), f.Chmod(0o644), f.Close()); err != nil {
		return fmt.Errorf("writing %s: %w", path, err)
	}
	if err := os.Rename(f.Name(), path); err != nil {
		return fmt.Errorf("writing %s: %w", path, err)
	}
	return nil
}

// WriteBytes is [Write] for content that there is already.
func WriteBytes(path string, content []byte) error {
	return Write(path, func(w io.Writer) error {
		_, err := io.Copy(w, bytes.NewReader(content))
		return err
	})
}
