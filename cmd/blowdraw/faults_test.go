package main

import (
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// Whatever keeps a file from being written: the message names the file and what is wrong,
// and a second line says what to do.
func TestWritingTrouble(t *testing.T) {
	dir := t.TempDir()
	file := put(t, dir, "file", nil)
	for err, say := range map[error]string{
		syscall.ENOSPC: "Make room there", syscall.EDQUOT: "make room", syscall.EFBIG: "ulimit -f",
		syscall.EROFS: "another folder", syscall.EACCES: "another folder",
	} {
		got := cannotWrite("x.tab", &os.PathError{Op: "write", Path: ".blowdraw-1", Err: err})
		if hint := hintFor(got); !strings.Contains(hint, say) ||
			!strings.HasPrefix(got.Error(), "can't write x.tab: ") || strings.Contains(got.Error(), ".blowdraw-1") {
			t.Errorf("%v: %q, hint %q", err, got, hint)
		}
	}
	for _, path := range []string{filepath.Join(dir, "gone", "x.tab"), filepath.Join(file, "x.tab")} {
		err := writeFile(path, true, say("new"))
		if err == nil || !strings.Contains(err.Error(), path) || hintFor(err) == "" {
			t.Errorf("%v, hint %q", err, hintFor(err))
		}
	}
}

// A tab that is edited and saved while refine listens stays as it was saved.
func TestEditedMeanwhile(t *testing.T) {
	path := put(t, t.TempDir(), "a.tab", []byte("old"))
	was, err := contentOf(path)
	if err != nil || unchanged(path, was) != nil {
		t.Fatalf("%q, %v", was, err)
	}
	put(t, filepath.Dir(path), "a.tab", []byte("edited"))
	if err := unchanged(path, was); err == nil || !strings.Contains(err.Error(), path) || hintFor(err) == "" {
		t.Errorf("%v, hint %q", err, hintFor(err))
	}
	if was, err = contentOf(path + "x"); err != nil || was != nil || unchanged(path+"x", was) != nil {
		t.Errorf("%q, %v", was, err)
	}
	if unchanged(path, was) == nil {
		t.Error("a file that has appeared is taken for none")
	}
}
