//go:build long

package main

import (
	"strings"
	"testing"
)

// The demo is on an A harp in second position (package demo).
func TestHarpsCommand(t *testing.T) {
	wav, _ := demoFiles(t)
	code, out, trouble := command("harps", wav)
	if code != 0 || trouble != "" {
		t.Fatalf("code %d: %s", code, trouble)
	}
	lines := strings.Split(out, "\n")
	if len(lines) < 4 || !strings.HasPrefix(strings.Join(strings.Fields(lines[3]), " "), "A 6") {
		t.Errorf("the A harp is not first:\n%s", out)
	}
	for _, part := range []string{"song key", "What was heard, for an A harp in E:", "A4 = 440 Hz",
		"Temperament:", "hole"} {
		if !strings.Contains(out, part) {
			t.Errorf("no %q in\n%s", part, out)
		}
	}
}

// Without --harp the likeliest is taken and named; with a wrong one another is
// recommended; with the right one nothing is said.
func TestTranscribeSaysWhichHarp(t *testing.T) {
	wav, _ := demoFiles(t)
	for _, c := range []struct {
		args      []string
		harp, say string
	}{
		{nil, "harp:      A\n", "the harp by its sound: A (6"},
		{[]string{"--harp", "F#"}, "harp:      F#\n", "an A harp fits this far better (6"},
		{[]string{"--harp", "A"}, "harp:      A\n", ""},
	} {
		code, out, trouble := command(append([]string{"transcribe", wav}, c.args...)...)
		if code != 0 || !strings.Contains(out, c.harp) {
			t.Errorf("%v: code %d, no %q in\n%s", c.args, code, c.harp, out)
		}
		for _, text := range []string{out, trouble} {
			said := strings.Contains(text, "by its sound") || strings.Contains(text, "far better")
			if !strings.Contains(text, c.say) || said != (c.say != "") {
				t.Errorf("%v: want %q in\n%s", c.args, c.say, text)
			}
		}
	}
}
