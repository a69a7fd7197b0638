package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The demo's double stop and its octave, which were rendered as such.
func TestTextureCommand(t *testing.T) {
	wav, _ := demoFiles(t)
	svg := filepath.Join(t.TempDir(), "a.svg")
	code, stdout, stderr := command("texture", wav, "--harp", "A", "--from", "4.6", "--to", "9.6", "--svg",
		svg)
	if code != 0 || stderr != "" {
		t.Fatalf("exit code %d, %q", code, stderr)
	}
	for _, want := range []string{"  double stop, minor third [-4 -5] ", "  octave split [-1 -4] ",
		"  one note -4 ", "-5: partial"} {
		if !strings.Contains(stdout, want) {
			t.Errorf("no %q in\n%s", want, stdout)
		}
	}
	if drawn, err := os.ReadFile(svg); err != nil ||
		!strings.Contains(string(drawn), "octave split [-1 -4]") {
		t.Errorf("%v in %s", err, drawn)
	}
	if code, _, stderr := command("texture", wav, "--harp", "A", "--svg", svg); code != exitFailed ||
		!strings.Contains(stderr, "--force") {
		t.Errorf("overwriting: exit code %d, %q", code, stderr)
	}
}

// Without a harp the one that sounds around the passage is taken; alone, only octaves are told from
// single reeds.
func TestTextureWithoutHarp(t *testing.T) {
	wav, _ := demoFiles(t)
	code, stdout, stderr := command("texture", wav, "--from", "4.6", "--to", "9.6")
	for _, want := range []string{", A harp by its sound (", "  double stop, minor third [-4 -5] ",
		"  octave split [-1 -4] ", "  one note -4 "} {
		if code != 0 || stderr != "" || !strings.Contains(stdout, want) {
			t.Errorf("exit code %d, %q; no %q in\n%s", code, stderr, want, stdout)
		}
	}
	code, stdout, stderr = command("texture", wav, "--alone", "--from", "7.6", "--to", "9.6")
	if code != 0 || stderr != "" || !strings.Contains(stdout, "  B3, octave ") {
		t.Errorf("exit code %d, %q\n%s", code, stderr, stdout)
	}
}

func TestTextureUsage(t *testing.T) {
	for _, args := range [][]string{{"texture"}, {"texture", "a.wav", "--from", "1", "--to", "90"},
		{"texture", "a.wav", "--svg", ""}, {"texture", "a.wav", "--alone", "--harp", "A"}} {
		if code, _, stderr := command(args...); code != exitUsage || stderr == "" {
			t.Errorf("%v: exit code %d, %q", args, code, stderr)
		}
	}
}
