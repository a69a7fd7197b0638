package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
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

// What takes long is given up at once when the command is stopped, not at its end.
func TestStoppedSoon(t *testing.T) {
	dir := t.TempDir()
	var sound []float64
	for range 120 {
		sound = append(sound, tone(1)...)
	}
	wav := put(t, dir, "a.wav", wavOf(t, sound))
	score := put(t, dir, "a.tab", []byte(tabHead+"0:00.000 100 -4 ?\n"))
	for _, args := range [][]string{
		{"transcribe", wav, "--harp", "C"}, {"harps", wav}, {"slow", wav, "--speed", "0.5", "-o", wav + ".flac"},
		{"render", score, "-o", wav + ".wav"}, {"render", score, "--with", wav, "-o", wav + ".wav"},
		{"page", wav, score, "-o", wav + ".html"}, {"check", score, "--recording", wav}, {"texture", wav, "--for", "50"},
		{"refine", score, "--recording", wav}, {"phrases", wav, "--harp", "C"}, {"transcribe", wav, "--find"},
	} {
		ctx, stop := context.WithCancel(t.Context())
		time.AfterFunc(50*time.Millisecond, stop)
		var stdout, stderr bytes.Buffer
		code := run(ctx, args, &stdout, &stderr)
		if code != exitFailed || stdout.Len() > 0 || stderr.String() != "blowdraw: stopped\n" {
			t.Errorf("%s: exit code %d, stdout %.100q, stderr %q", args[0], code, stdout.String(), stderr.String())
		}
	}
	if left := listing(t, dir); len(left) != 3 {
		t.Errorf("files left: %q", left)
	}
}
