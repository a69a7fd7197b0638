package main

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"
)

// Every command that reads a tab tells what it cannot take for sure, with the line, and
// check goes on failing until it is mended.
func TestByHand(t *testing.T) {
	dir := t.TempDir()
	wav, _ := demoFiles(t)
	const line = "0:12.5 0.162 1 4"
	bad := put(t, dir, "bad.tab", []byte(tabHead+"0:11 1 -2\n"+line+"\n4 5 6\n"))
	const say = "line 5, column 16: 4 behind 1 may be a note; want 1 alone if that is its degree, [1 4]"
	for i, args := range [][]string{
		{"check", bad},
		{"compare", bad, bad},
		{"retab", bad, "--harp", "D"},
		{"phrases", bad},
		{"export", bad, "--as", "tab"},
		{"export", bad, "--as", "csv"},
		{"render", bad, "-o", filepath.Join(dir, "x.wav")},
		{"page", wav, bad, "-o", filepath.Join(dir, "x.html")},
		{"refine", bad, "--recording", wav, "--dry-run"},
		{"check", bad, "--recording", wav},
	} {
		code, stdout, stderr := command(args...)
		if !strings.Contains(stdout+stderr, say) {
			t.Errorf("%d %s: exit code %d, not told; stderr %q", i, args[0], code, stderr)
		}
		if args[0] == "check" && code != exitFailed {
			t.Errorf("check: exit code %d", code)
		}
	}
	_, out, _ := command("export", bad, "--as", "tab")
	if !strings.Contains(out, "# not understood: "+line) || strings.Count(out, "\n0:1") != 4 {
		t.Errorf("written as\n%s", out)
	}
	for _, mended := range []string{"0:12.5 0.162 [1 4]", "0:12.5 0.162 1", "0:12.5 0.08 1\n4"} {
		if code, stdout, _ := fed(tabHead+"0:11 1 -2\n"+mended+"\n+4 5 6\n", "check", "-"); code != 0 {
			t.Errorf("%q: exit code %d\n%s", mended, code, stdout)
		}
	}
}

// Degrees of many lines at once, as after the key was changed, are told in one line.
func TestStaleDegrees(t *testing.T) {
	body := "    time  length  tab  degree\n"
	for i := range 9 {
		body += fmt.Sprintf("0:%02d 0.5 -4  4\n", i+1)
	}
	code, stdout, stderr := fed(tabHead+body, "check", "-")
	if code != exitFailed || stderr != "blowdraw: standard input: 9 problems\n" ||
		strings.Count(stdout, "4 is not the degree of -4, which is 5") != mostStale ||
		!strings.Contains(stdout, "4 more lines with degrees that are not those of the notes (10, 11, 12, 13);") {
		t.Errorf("exit code %d, stderr %q\n%s", code, stderr, stdout)
	}
	_, fresh, _ := fed(tabHead+body, "export", "-", "--as", "tab")
	if code, stdout, stderr := fed(fresh, "check", "-"); code != 0 {
		t.Errorf("written afresh: exit code %d, %s\n%s", code, stderr, stdout)
	}
}
