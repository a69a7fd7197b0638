package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode"

	"blowdraw/cmd/blowdraw/demo"
)

// steering is text that clears a screen, names a window, turns the order of letters and rings.
const steering = "x\x1b[2J\x1b]0;hit\x07\u009b31m\u202e\r\x08y"

// On a terminal no command prints a control character, whatever the names of files and the
// text in tabs have; the tabs themselves that are written keep their text on one line.
func TestNothingSteersTheTerminal(t *testing.T) {
	t.Setenv("TERM", "dumb") // no progress, which has control characters of its own
	dir := t.TempDir()
	t.Chdir(dir)
	name := func(ending string) string { return strings.ReplaceAll(steering, "/", "") + ending }
	write := func(name string, b []byte) {
		t.Helper()
		if err := os.WriteFile(name, b, 0o600); err != nil {
			t.Skip("no such names here:", err)
		}
	}
	text := "blowdraw tab 1\nrecording: " + steering + "\nharp: A\nsong: E\nnote: " + steering + "\nteacher: " +
		steering + "\n# " + steering + "\n0:00.592 0.4 -2 scoop # " + steering + "\n0:01.068 0.2 -3' ? 40%\n" +
		"bar 1 0:00.592 " + steering + "\n" + steering + " 0:02\n0:02 1 " + steering + "\n"
	write(name(".tab"), []byte(text))
	write(name(".wav"), demo.Recording())
	write(name(".layout"), []byte("name: "+steering+"\nblow: "+steering+"\n"))
	write(name(".mid"), []byte(steering))
	write("good.tab", []byte("blowdraw tab 1\nharp: A\nsong: E\n0:00.592 0.4 -2\n"))
	if err := os.Mkdir(name(""), 0o700); err != nil {
		t.Fatal(err)
	}
	write(filepath.Join(name(""), name(".wav")), wavOf(t, tone(0.5)))
	tab, wav := name(".tab"), name(".wav")
	for _, args := range [][]string{
		{"check", tab}, {"check", tab, "--recording", wav}, {"refine", tab, "--recording", wav},
		{"compare", tab, tab}, {"compare", "good.tab", tab}, {"phrases", tab},
		{"retab", tab, "--harp", "C"}, {"export", tab, "--as", "tab"}, {"export", tab, "--as", "csv"},
		{"export", tab, "--as", "json"}, {"export", tab, "--as", "vtt"},
		{"export", tab, "--as", "sheet"}, {"export", tab, "--as", "musicxml"},
		{"export", tab, "--as", steering}, {"export", tab, "--as", "midi", "-o", name(".out.mid")},
		{"render", tab, "-o", name(".flac")}, {"slow", wav, "--for", "1", "-o", name(".slow.flac")},
		{"page", wav, tab, "-o", name(".html")}, {"page", wav, "good.tab", "-o", name(".html")},
		{"texture", wav, "--for", "2"},
		{"texture", wav, "--for", "2", "--harp", "A", "--svg", name(".svg")},
		{"harps", wav, "--for", "2"}, {"transcribe", wav, "--harp", "A", "--for", "3"},
		{"transcribe", wav, "--harp", "A", "--for", "3", "--find"},
		{"transcribe", wav, "--harp", "A", "--layout", name(".layout")},
		{"transcribe", wav, "--harp", steering}, {"transcribe", name(".mid"), "--harp", "A"},
		{"transcribe", name(""), "--harp", "C", "--ear", "classical"},
		{"transcribe", steering + ".none", "--harp", "C"}, {"import", name(".mid"), "--harp", "A"},
		{"transcribe", wav, "--harp", "A", "-o", tab},
		{"layout", "--harp", "A", "--layout", name(".layout")}, {steering},
	} {
		stdout, said := terminal(t, 200)
		stderr, told := terminal(t, 200)
		code := run(context.Background(), args, stdout, stderr)
		for what, text := range map[string]string{"stdout": said(), "stderr": told()} {
			text = strings.ReplaceAll(text, "\r\n", "\n") // as terminals end lines
			if at := strings.IndexFunc(text, func(r rune) bool {
				return unicode.IsControl(r) && r != '\n' && r != '\t' || turns(r)
			}); at >= 0 {
				t.Errorf("%s, exit code %d: %s has %q", args[0], code, what, text[at:min(len(text), at+60)])
			}
		}
	}
}
