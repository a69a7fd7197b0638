package main

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"

	"blowdraw/cmd/blowdraw/demo"
	"blowdraw/decode"
)

// A lesson has its files; in Chromium and Firefox its page opens from the file, every link leads to
// one of them and every sound can be played.
func TestLesson(t *testing.T) {
	dir := t.TempDir()
	wav, text := put(t, dir, "demo.wav", demo.Recording()), put(t, dir, "demo.tab", []byte(pageTab))
	out := filepath.Join(dir, "les son")
	mustRun(t, "lesson", text, "--recording", wav, "--dir", out, "--teacher")
	for _, name := range []string{"index.html", "sheet.html", "teacher.html", "page.html", "tab.tab",
		"captions.vtt", "captions.srt", "phrases/02-tab.flac"} {
		if info, err := os.Stat(filepath.Join(out, name)); err != nil || info.Size() == 0 {
			t.Errorf("%s: %v", name, err)
		}
	}
	if strings.Contains(read(t, out, "sheet.html"), "by ear") ||
		!strings.Contains(read(t, out, "teacher.html"), "by ear") {
		t.Error("doubts stand on the student's sheet, or not on the teacher's")
	}
	recorded, slower := seconds(t, out, "phrases/01-recorded.flac"), seconds(t, out, "phrases/01-slower.flac")
	if want := 3.622 + roomBefore - 0.008 + roomAfter; recorded < want-0.02 || recorded > want+0.02 ||
		slower < recorded/0.6-0.05 || slower > recorded/0.6+0.05 {
		t.Errorf("phrase 1 takes %.2f s and slower %.2f; want about %.2f and %.2f",
			recorded, slower, want, want/0.6)
	}
	inBrowsers(t, func(t *testing.T, b *pageBrowser) {
		b.visit(filepath.Join(out, "index.html"))
		b.until(`document.querySelectorAll("audio").length === 6`)
		b.do(`for (const a of document.querySelectorAll("audio")) a.preload = "metadata", a.load()`)
		b.until(`[...document.querySelectorAll("audio")].every((a) => a.duration > 1)`)
		links := eval[[]string](b, `[...document.querySelectorAll("a")].map((a) => a.getAttribute("href"))`)
		for _, link := range links {
			if _, err := os.Stat(filepath.Join(out, link)); err != nil {
				t.Errorf("a link leads to %s: %v", link, err)
			}
		}
	})
}

func seconds(t *testing.T, path ...string) float64 {
	t.Helper()
	clip, _, _, err := decode.Load(filepath.Join(path...), decode.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return float64(len(clip.Samples)) / float64(clip.Rate)
}

func TestLessonTrouble(t *testing.T) {
	dir := t.TempDir()
	wav, text := put(t, dir, "demo.wav", demo.Recording()), put(t, dir, "demo.tab", []byte(pageTab))
	turned, _, _, err := decode.Load(wav, decode.Options{Rate: 22050})
	if err != nil {
		t.Fatal(err)
	}
	half := len(turned.Samples) / 2
	other := put(t, dir, "other.wav", wavOf(t, slices.Concat(turned.Samples[half:], turned.Samples[:half])))
	out := filepath.Join(dir, "out")
	for _, c := range []struct {
		args []string
		code int
		say  string
	}{
		{[]string{text, "--dir", out}, exitUsage, "--recording"},
		{[]string{text, "--recording", wav}, exitUsage, "--dir"},
		{[]string{text, "--recording", wav, "--dir", wav}, exitFailed, "not a folder"},
		{[]string{text, "--recording", wav, "--dir", out + "/deep/er"}, exitFailed, "there is no folder"},
		{[]string{text, "--recording", wav, "--dir", out, "--speed", "9"}, exitUsage, "--speed"},
		{[]string{text, "--recording", other, "--dir", out}, exitFailed, "does not sound like"},
	} {
		code, stdout, stderr := command(append([]string{"lesson"}, c.args...)...)
		checkTrouble(t, code, stdout, stderr, c.code, c.say)
	}
	if entries, err := os.ReadDir(dir); err != nil || len(entries) != 3 {
		t.Errorf("something was left: %v, %v", entries, err)
	}
}

// A folder is written whole or not at all: when the disk is full nothing stays, and what
// was there is as it was.
func TestFolderOnFullDisk(t *testing.T) {
	full := func(io.Writer) error { return &os.PathError{Op: "write", Path: "x", Err: syscall.ENOSPC} }
	dir := t.TempDir()
	files := []folderFile{{"a.txt", "", say("new")}, {"deep/b.txt", "", full}}
	out := filepath.Join(dir, "out")
	if err := writeFolder(out, false, files); !errors.Is(err, syscall.ENOSPC) {
		t.Errorf("%v", err)
	}
	if entries, _ := os.ReadDir(dir); len(entries) > 0 {
		t.Errorf("left: %v", entries)
	}
	put(t, dir, "a.txt", []byte("mine"))
	if err := writeFolder(dir, true, files); !errors.Is(err, syscall.ENOSPC) ||
		read(t, dir, "a.txt") != "mine" {
		t.Errorf("%v, a.txt is %q", err, read(t, dir, "a.txt"))
	}
	files[1].write = say("deep")
	if err := writeFolder(dir, false, files); err == nil || read(t, dir, "a.txt") != "mine" ||
		exists(dir+"/deep") {
		t.Errorf("%v, or something was written without force", err)
	}
	if err := writeFolder(dir, true, files); err != nil || read(t, dir, "a.txt") != "new" ||
		read(t, dir, "deep", "b.txt") != "deep" {
		t.Errorf("%v", err)
	}
	if entries, _ := os.ReadDir(dir); len(entries) != 2 {
		t.Errorf("left: %v", entries)
	}
}
