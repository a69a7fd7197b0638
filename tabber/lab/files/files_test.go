package files

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// What is written replaces what was there; what fails half-way leaves it, and nothing else.
func TestWrite(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "name")
	for _, text := range []string{"first", "second, longer"} {
		if err := WriteBytes(path, []byte(text)); err != nil {
			t.Fatal(err)
		}
		if got, err := os.ReadFile(path); err != nil || string(got) != text {
			t.Errorf("%q, %v, want %q", got, err, text)
		}
	}
	broken := errors.New("broken")
	err := Write(path, func(w io.Writer) error {
		if _, err := io.WriteString(w, "half"); err != nil {
			return err
		}
		return broken
	})
	if !errors.Is(err, broken) || !strings.Contains(err.Error(), path) {
		t.Errorf("%v, want the cause and the file", err)
	}
	if got, err := os.ReadFile(path); err != nil || string(got) != "second, longer" {
		t.Errorf("after a failure %q, %v", got, err)
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) != 1 {
		t.Errorf("%v left, %v", left, err)
	}
	if err := WriteBytes(filepath.Join(dir, "none", "name"), nil); err == nil {
		t.Error("written into a folder that is not there")
	}
}
