package main

import (
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A file whose name begins with a dash is taken for flags: the hint says how to name it.
func TestDashedName(t *testing.T) {
	dir := t.TempDir()
	put(t, dir, "-solo.wav", wavOf(t, tone(1)))
	t.Chdir(dir)
	code, stdout, stderr := command("transcribe", "-solo.wav", "--harp", "C")
	checkTrouble(t, code, stdout, stderr, exitUsage, "-solo.wav")
	if !strings.Contains(stderr, "./-solo.wav") {
		t.Errorf("no hint in %q", stderr)
	}
	if _, _, stderr := command("transcribe", "-none.wav", "--harp", "C"); strings.Contains(stderr, "./") {
		t.Errorf("a hint at a file that is not there: %q", stderr)
	}
}

// A name may be as long as the file system allows; a longer one is an error, not a
// file by another name.
func TestLongNames(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(t.TempDir(), strings.Repeat("x", 255)), nil, 0o600); err != nil {
		t.Skip("no such names here:", err)
	}
	if err := writeFile(filepath.Join(dir, strings.Repeat("x", 255)), false, say("new")); err != nil {
		t.Error(err)
	}
	if err := writeFile(filepath.Join(dir, strings.Repeat("x", 300)), false, say("new")); err == nil {
		t.Error("a name of 300 characters was written")
	}
	if entries, err := os.ReadDir(dir); err != nil || len(entries) != 1 || len(entries[0].Name()) != 255 {
		t.Errorf("%d files, %v", len(entries), err)
	}
}

// What a file's name has of control characters never reaches the terminal.
func TestNamesDontSteerTheTerminal(t *testing.T) {
	name := filepath.Join(t.TempDir(), "a\x1b[2J\rb.wav")
	if err := os.WriteFile(name, wavOf(t, tone(1))[:20000], 0o600); err != nil {
		t.Skip("no such names here:", err)
	}
	for _, args := range [][]string{
		{"transcribe", name, "--harp", "C", "--ear", "classical"}, {"transcribe", name + "x", "--harp", "C"},
		{"check", name},
	} {
		_, stdout, stderr := command(args...)
		if stderr == "" || strings.ContainsAny(stdout+stderr, "\x1b\r") {
			t.Errorf("%s: stdout %q, stderr %q", args[0], stdout, stderr)
		}
	}
}

// A link stays one: what it leads to is written.
func TestOutputThroughLink(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"real.tab", "gone.tab"} {
		link := filepath.Join(dir, "link to "+name)
		if err := os.Symlink(name, link); err != nil {
			t.Skip("no links here:", err)
		}
		if name == "real.tab" {
			put(t, dir, name, []byte("mine"))
			if err := writeFile(link, false, say("new")); err == nil || read(t, link) != "mine" {
				t.Errorf("%s: written without force (%v)", name, err)
			}
		}
		if err := writeFile(link, name == "real.tab", say("new")); err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if info, err := os.Lstat(link); err != nil || info.Mode()&os.ModeSymlink == 0 ||
			read(t, dir, name) != "new" {
			t.Errorf("%s: the link became a file, or leads to something else (%v)", name, err)
		}
	}
}

func say(text string) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := io.WriteString(w, text)
		return err
	}
}

// Whoever gives a recording where a tab or a melody is wanted is told so.
func TestRecordingForTab(t *testing.T) {
	sound := put(t, t.TempDir(), "a.wav", wavOf(t, tone(1)))
	for _, args := range [][]string{{"check", sound}, {"render", sound, "-o", sound + ".flac"},
		{"compare", sound, sound}, {"import", sound, "--harp", "A"}} {
		code, stdout, stderr := command(args...)
		checkTrouble(t, code, stdout, stderr, exitFailed, "it is a recording, not")
		if !strings.Contains(stderr, "blowdraw transcribe") {
			t.Errorf("%s: no hint in %q", args[0], stderr)
		}
	}
}
