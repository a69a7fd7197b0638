package main

import (
	"io"
	"slices"
	"strings"
	"testing"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"

	"github.com/spf13/cobra"
)

// Every command has its place in the help, explains itself, and has examples whose
// flags it knows; those that need none say in a few words all there is.
func TestEveryCommandExplains(t *testing.T) {
	for _, c := range newRoot(io.Discard, io.Discard).Commands() {
		code, stdout, stderr := command(c.Name(), "--help")
		if code != 0 || stderr != "" || c.GroupID == "" ||
			!strings.HasPrefix(stdout, strings.TrimSpace(c.Long)) || c.Long == "" {
			t.Errorf("%s: exit code %d, group %q, stderr %q", c.Name(), code, c.GroupID, stderr)
		}
		if c.Example == "" &&
			!slices.Contains([]string{"demo", "marks", "tab", "help", "completion"}, c.Name()) {
			t.Errorf("%s has no example", c.Name())
		}
		for line := range strings.Lines(c.Example) {
			for part := range strings.SplitSeq(line, "|") {
				checkExample(t, c.Name(), strings.TrimSpace(part))
			}
		}
		for line := range strings.Lines(stdout) {
			if n := len([]rune(line)); n > helpWidth+1 {
				t.Errorf("%s: a line of %d characters: %s", c.Name(), n, line)
			}
		}
	}
}

// checkExample wants a command line that is understood up to its files.
func checkExample(t *testing.T, of, line string) {
	t.Helper()
	var args []string
	for i, quoted := range strings.Split(line, `"`) {
		if i%2 == 1 {
			args = append(args, quoted)
		} else {
			args = append(args, strings.Fields(quoted)...)
		}
	}
	c, rest, err := newRoot(io.Discard, io.Discard).Find(args[1:])
	if args[0] != "blowdraw" || err != nil || c.Name() != args[1] {
		t.Errorf("%s: %q: %v", of, line, err)
		return
	}
	if err := c.ParseFlags(rest); err != nil {
		t.Errorf("%s: %q: %v", of, line, err)
	}
	if err := c.Args(c, c.Flags().Args()); err != nil {
		t.Errorf("%s: %q: %v", of, line, err)
	}
}

func TestHelpTrouble(t *testing.T) {
	for _, c := range []struct {
		args []string
		say  string
	}{
		{[]string{"help", "sing"}, "sing"},
		{[]string{"help", "check", "sing"}, "sing"},
		{[]string{"completion", "sing"}, "sing"},
		{[]string{"layout", "--harp"}, "--harp wants"},
		{[]string{"transcribe", "x.wav", "--jobs", "few"}, `--jobs "few": want a whole number`},
		{[]string{"transcribe", "x.wav", "--bpm", "fast"}, `--bpm "fast": want a number`},
		{[]string{"compare", "a", "b", "--align=maybe"}, "true or false"},
		{[]string{"transcribe", "x.wav", "-q"}, "-q"},
	} {
		code, stdout, stderr := command(c.args...)
		checkTrouble(t, code, stdout, stderr, exitUsage, c.say)
	}
	if code, stdout, _ := command("help", "check"); code != 0 ||
		!strings.Contains(stdout, "blowdraw check TAB") {
		t.Errorf("exit code %d\n%s", code, stdout)
	}
}

// What the help says of tabs is understood, and every token in it is one.
func TestTabExplained(t *testing.T) {
	d, err := tab.Parse(strings.NewReader(tabExample))
	if err != nil || len(d.Events) != 6 || len(d.Phrases) != 2 {
		t.Fatalf("%d events, %d phrases, %v", len(d.Events), len(d.Phrases), err)
	}
	h, err := harp.Parse("C", harp.Layouts()[0])
	if err != nil {
		t.Fatal(err)
	}
	_, stdout, _ := command("tab")
	for _, token := range []string{"4", "[1 4]", "-4", "[-4 -5]", "-3'", "-3b", "-3''", "6o", "-7o"} {
		if _, err := tab.ParseToken(h, token); err != nil || !strings.Contains(stdout, "  "+token+" ") {
			t.Errorf("%s: %v, or it is not explained", token, err)
		}
	}
	whole := "blowdraw tab 1\nharp: A\nsong: E\nmeter: 4/4\nmine: my own\nbar 5 0:12.0 IV\n" +
		"0:12.2 0.5 {Bb4+30}\n0:13 1 4 ? 62%, or 3 10%\n"
	if d, err := tab.Parse(strings.NewReader(whole)); err != nil || len(d.Bars) != 1 || len(d.Events) != 2 {
		t.Errorf("%+v, %v", d, err)
	}
}

// Flags complete to words that their commands take.
func TestFlagWords(t *testing.T) {
	known := 0
	for _, c := range newRoot(io.Discard, io.Discard).Commands() {
		for _, name := range []string{"format", "channel", "ear", "as", "keep", "tone", "layout", "harp",
			"cue", "audio", "form", "meter", "marks"} {
			f := c.Flags().Lookup(name)
			if f == nil {
				continue
			}
			known++
			for _, w := range words(c.Name(), name) {
				if name != "harp" && name != "form" && !strings.Contains(f.Usage+`"`+f.DefValue+`"`, w) {
					t.Errorf("%s --%s: %s is not in %q", c.Name(), name, w, f.Usage)
				}
			}
		}
	}
	if known < 30 {
		t.Errorf("%d flags", known)
	}
	for want, args := range map[string][]string{
		"F#": {"transcribe", "x", "--harp", ""}, "country": {"layout", "--layout", ""},
		"musicxml": {"export", "x", "--as", ""}, "table": {"phrases", "--format", ""},
	} {
		_, out, _ := command(append([]string{cobra.ShellCompRequestCmd}, args...)...)
		if !strings.Contains(out, want+"\n") {
			t.Errorf("%q completes to %q", args, out)
		}
	}
}
