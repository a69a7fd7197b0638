package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// terminal opens a pseudo-terminal so many characters wide (pty(7), ioctl_tty(2)). What is
// written to it is there once the function that is returned has closed it.
func terminal(t *testing.T, width int) (f *os.File, written func() string) {
	t.Helper()
	master, err := os.OpenFile("/dev/ptmx", os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Skip(err)
	}
	t.Cleanup(func() { master.Close() })
	if err := unix.IoctlSetPointerInt(int(master.Fd()), unix.TIOCSPTLCK, 0); err != nil {
		t.Skip(err)
	}
	n, err := unix.IoctlGetInt(int(master.Fd()), unix.TIOCGPTN)
	if err != nil {
		t.Skip(err)
	}
	f, err = os.OpenFile(fmt.Sprintf("/dev/pts/%d", n), os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Skip(err)
	}
	size := &unix.Winsize{Row: 25, Col: uint16(width)}
	if err := unix.IoctlSetWinsize(int(f.Fd()), unix.TIOCSWINSZ, size); err != nil {
		t.Fatal(err)
	}
	var all bytes.Buffer
	ended := make(chan bool)
	go func() {
		defer close(ended)
		all.ReadFrom(master) // ends with an error once nobody has the other side open
	}()
	return f, func() string {
		f.Close()
		<-ended
		return all.String()
	}
}

// On a terminal every command that listens says at once what it is doing, and clears the
// line in the end; elsewhere it says nothing.
func TestProgressOnTerminal(t *testing.T) {
	t.Setenv("TERM", "xterm")
	dir := t.TempDir()
	sound := put(t, dir, "tone.wav", wavOf(t, tone(2)))
	written := filepath.Join(dir, "tone.tab")
	start := []string{"transcribe", sound, "--harp", "C", "--ear", "classical", "-o", written}
	if code, _, stderr := command(start...); code != 0 {
		t.Fatal(stderr)
	}
	if err := os.Mkdir(filepath.Join(dir, "both"), 0o755); err != nil {
		t.Fatal(err)
	}
	put(t, filepath.Join(dir, "both"), "a.wav", wavOf(t, tone(1)))
	for _, c := range []struct{ line, say string }{
		{"harps tone.wav", "which harp is it? [============                  ] 40%"},
		{"harps tone.wav --section=5", "which harp is it?"},
		{"transcribe tone.wav", "which harp is it? ["},
		{"transcribe tone.wav --find", "which harp is it? ["},
		{"transcribe tone.wav --harp C --ear classical", "transcribing"},
		{"transcribe tone.wav --harp C --ear classical", "transcribing [==============================] 0:02"},
		{"phrases tone.wav --harp C", "transcribing"},
		{"check tone.tab --recording tone.wav", "checking"},
		{"refine tone.tab --recording tone.wav", "refining"},
		{"texture tone.wav", "listening"},
		{"page tone.wav tone.tab -o tone.html", "reading the sound"},
		{"transcribe both --harp C --ear classical", "0 of 1 recording done"},
	} {
		words := strings.Fields(c.line)
		for i, w := range words {
			if strings.HasPrefix(w, "tone.") || w == "both" {
				words[i] = filepath.Join(dir, w)
			}
		}
		f, said := terminal(t, 100)
		var stdout bytes.Buffer
		code := run(context.Background(), words, &stdout, f)
		text := said()
		if code != 0 || !strings.Contains(text, "\r"+c.say) {
			t.Errorf("%s: exit code %d, %q", c.line, code, text)
		}
		if last := text[strings.LastIndex(text, "\r")+1:]; !strings.HasPrefix(text, "\r") ||
			strings.HasPrefix(last, c.say) {
			t.Errorf("%s: begins late, or stays: %q", c.line, text)
		}
	}
	if _, _, stderr := command("harps", sound); stderr != "" {
		t.Errorf("without a terminal: %q", stderr)
	}
}

// A line never fills the terminal, so that it can be replaced.
func TestProgressNarrow(t *testing.T) {
	t.Setenv("TERM", "xterm")
	f, said := terminal(t, 20)
	p := newProgress(f, "transcribing", 60)
	p.begun = time.Now()
	p.at(30)
	p.done()
	if got, want := said(), "\rtranscribing\x1b[K\rtranscribing [=====\x1b[K\r\x1b[K"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
