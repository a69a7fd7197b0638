package main

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"blowdraw/cmd/blowdraw/demo"
	"blowdraw/tabber/tab"
)

// heardDemo is the tab that the command demo hears, heard once for all tests.
var heardDemo = sync.OnceValues(func() (text []byte, err error) {
	dir, err := os.MkdirTemp("", "blowdraw-heard")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	if code, _, stderr := command("demo", "--dir", dir); code != 0 {
		return nil, errors.New(stderr)
	}
	return os.ReadFile(filepath.Join(dir, demoTab))
})

// demoFiles are the demo's recording, in a folder of its own, and the tab that is heard
// in it.
func demoFiles(t *testing.T) (wav string, text []byte) {
	t.Helper()
	text, err := heardDemo()
	if err != nil {
		t.Fatal(err)
	}
	return put(t, t.TempDir(), demo.Name, demo.Recording()), slices.Clone(text)
}

// edited is a text with the line that has the prefix replaced.
func edited(t *testing.T, text, prefix, by string) string {
	t.Helper()
	lines := strings.SplitAfter(text, "\n")
	for i, l := range lines {
		if strings.HasPrefix(l, prefix) {
			lines[i] = by
			return strings.Join(lines, "")
		}
	}
	t.Fatalf("no line begins with %q in\n%s", prefix, text)
	return ""
}

// A wrong doubtful event is put right, an invented one goes, a settled one stays
// although the recording says otherwise, and comments stay in place.
func TestRefineCommand(t *testing.T) {
	wav, text := demoFiles(t)
	was, err := tab.Parse(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	third, settled := was.Events[2], was.Events[15]
	mine := edited(t, string(text), tab.Clock(third.Start),
		"# above\n"+tab.Clock(third.Start)+" 0.476 -5 ? # listen\n")
	mine = edited(t, mine, tab.Clock(settled.Start), tab.Clock(settled.Start)+" 0.4 -1 # I insist\n")
	mine = edited(t, mine, "space 1.2", "0:09.6 0.3 -2 ? # invented\n")
	mine = strings.Replace(mine, "ear: ", "colour: blue\near: ", 1)
	in := put(t, t.TempDir(), "mine.tab", []byte(mine))

	code, stdout, stderr := command("refine", in, "--recording", wav)
	if code != 0 || stderr != "" {
		t.Fatalf("exit code %d, stderr %q", code, stderr)
	}
	d, err := tab.Parse(strings.NewReader(stdout))
	if err != nil {
		t.Fatal(err)
	}
	if len(d.Events) != len(was.Events) {
		t.Fatalf("%d events, want %d:\n%s", len(d.Events), len(was.Events), stdout)
	}
	if e := d.Events[2]; tab.Token(e.Actions) != tab.Token(third.Actions) || e.Comment != "listen" {
		t.Errorf("the third note: %+v", e)
	}
	if e := d.Events[15]; tab.Token(e.Actions) != "-1" || e.Start != settled.Start ||
		e.Comment != "I insist" {
		t.Errorf("the settled note: %+v", e)
	}
	for _, line := range []string{"# above\n" + tab.Clock(third.Start), "# invented\n", "colour:    blue\n"} {
		if !strings.Contains(stdout, line) {
			t.Errorf("no %q in\n%s", line, stdout)
		}
	}

	code, stdout, _ = command("refine", in, "--recording", wav, "--dry-run")
	table := strings.Fields(stdout)
	if text, err := os.ReadFile(in); code != 0 || err != nil || string(text) != mine {
		t.Errorf("a dry run wrote (%d, %v)", code, err)
	}
	said, at := strings.Join(table, " "), tab.Clock(third.Start)
	if !strings.Contains(said, at+" -5 ? 50% "+at+" -4") ||
		!strings.Contains(said, "0:09.600 -2 ? 50% silence") {
		t.Errorf("dry run:\n%s", stdout)
	}

	// In place.
	if code, stdout, stderr := command("refine", in, "--recording", wav, "-o", in, "--force"); code != 0 ||
		stdout != "" || stderr != "" {
		t.Errorf("exit code %d, stdout %q, stderr %q", code, stdout, stderr)
	}
	if text, err := os.ReadFile(in); err != nil || !strings.Contains(string(text), "# I insist") {
		t.Errorf("%v\n%s", err, text)
	}
}

// Without doubt nothing changes.
func TestRefineSettled(t *testing.T) {
	wav, text := demoFiles(t)
	lines := strings.SplitAfter(string(text), "\n")
	for i, l := range lines {
		if before, _, found := strings.Cut(l, "?"); found {
			lines[i] = strings.TrimRight(before, " ") + "\n"
		}
	}
	settled := strings.Join(lines, "")
	if code, stdout, stderr := fed(settled, "refine", "-", "--recording", wav, "--dry-run"); code != 0 ||
		stdout != "Nothing changes.\n" || stderr != "" {
		t.Errorf("exit code %d, stdout %q, stderr %q", code, stdout, stderr)
	}
	d, err := tab.Parse(strings.NewReader(settled))
	if err != nil {
		t.Fatal(err)
	}
	var want bytes.Buffer
	if err := tab.WriteText(&want, d); err != nil {
		t.Fatal(err)
	}
	if code, stdout, _ := fed(settled, "refine", "-", "--recording", wav); code != 0 ||
		stdout != want.String() {
		t.Errorf("exit code %d, got\n%s\nwant\n%s", code, stdout, want.String())
	}
}

func TestRefineTrouble(t *testing.T) {
	dir := t.TempDir()
	good := put(t, dir, "good.tab", []byte(tabHead+"0:00.1 0.5 -2 ?\n"))
	sound := put(t, dir, "tone.wav", wavOf(t, tone(1)))
	for _, c := range []struct {
		args []string
		code int
		say  string
	}{
		{nil, 2, "one tab"},
		{[]string{good}, 2, "--recording"},
		{[]string{good, "--recording", sound, "--dry-run", "-o", "x"}, 2, "--dry-run"},
		{[]string{good, "--recording", sound, "-o", ""}, 2, "--output"},
		{[]string{good, "--recording", sound, "-o", good}, 1, "exists"},
		{[]string{good, "--recording", filepath.Join(dir, "none.wav")}, 1, "none.wav"},
		{[]string{good, "--recording", good}, 1, "good.tab"},
		{[]string{good, "--recording", sound, "--ear", "third"}, 2, "third"},
		{[]string{good, "--recording", sound, "--channel", "third"}, 2, "third"},
		{[]string{filepath.Join(dir, "none.tab"), "--recording", sound}, 1, "no such file"},
		{[]string{sound, "--recording", sound}, 1, "it is a recording, not a tab"},
	} {
		code, stdout, stderr := command(append([]string{"refine"}, c.args...)...)
		checkTrouble(t, code, stdout, stderr, c.code, c.say)
	}
}
