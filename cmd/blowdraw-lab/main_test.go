package main

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"blowdraw/decode"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/lab/files"
	"blowdraw/tabber/lab/truth"
	"blowdraw/tabber/render"
)

// lab runs a command line.
func lab(args ...string) (code int, stdout, stderr string) {
	var out, err bytes.Buffer
	code = run(context.Background(), args, &out, &err)
	return code, out.String(), err.String()
}

// A wrong command line is told in one line, with a hint, and gives 2; what fails gives 1.
func TestExitCodes(t *testing.T) {
	none := filepath.Join(t.TempDir(), "none")
	for _, c := range []struct {
		args []string
		code int
		say  string
	}{
		{[]string{"nonesuch"}, exitUsage, `unknown command "nonesuch"`},
		{[]string{"make"}, exitUsage, "want one folder, got 0"},
		{[]string{"make", "--pairs", "--played", none}, exitUsage, "--pairs and --played exclude each other"},
		{[]string{"make", "--songs", "opera", none}, exitUsage, `no kind of song "opera"`},
		{[]string{"make", "--songs", "solo", "--count", "0", none}, exitUsage, "at least one song"},
		{[]string{"make", "--count", "3", none}, exitUsage, "--count is for --songs only"},
		{[]string{"make", "--only", "octave", none}, exitUsage, "with --pairs"},
		{[]string{"make", "--seed", "one", none}, exitUsage, "seed"},
		{[]string{"make", "--songs", "solo", "--band", none, none}, exitFailed, "looking for the sound bank"},
		{[]string{"measure"}, exitUsage, "want a folder"},
		{[]string{"measure", "--harps", "--real", none}, exitUsage, "--harps and --real exclude each other"},
		{[]string{"measure", "--latency", "0.1", none}, exitUsage, "--latency has nothing to do"},
		{[]string{"measure", "--aubio", "--from", "1", none}, exitUsage, "--from has nothing to do with --aubio"},
		{[]string{"measure", "--first-beats", "1,x", none}, exitUsage, `"x" is not a number`},
		{[]string{"measure", "--ear", "third", none}, exitUsage, `no ear "third"`},
		{[]string{"measure", "--json", none, none}, exitFailed, "there is no folder " + none},
		{[]string{"measure", none}, exitFailed, "no clips"},
		{[]string{"report", "--bench", none}, exitFailed, "there is no folder " + none},
		{[]string{"report", "--only", "nonesuch"}, exitUsage, `no table is called "nonesuch"`},
		{[]string{"fit"}, exitUsage, "want one model"},
		{[]string{"fit", "--root", "../..", "nonesuch"}, exitUsage, `no model "nonesuch"`},
		{[]string{"fit", "--root", none, "octave"}, exitFailed, "is not the repository"},
		{[]string{"fit", "--all", "octave"}, exitUsage, "one word too many"},
		{[]string{"fit", "--keep"}, exitUsage, "want one model"},
		{[]string{"fit", "--keep", "--check"}, exitUsage, "exclude each other"},
		{[]string{"fit", "--bench", none, "octave"}, exitUsage, "--bench has nothing to do without --all"},
		{[]string{"fit", "--root", "../..", "ratio"}, exitFailed, "is not kept"},
		{[]string{"fit", "--root", "../..", "decision"}, exitFailed, "--search"},
		{[]string{"measure", "--means", none, none}, exitUsage, "--means goes with --tiers"},
		{[]string{"measure", "--means", none, "--tiers", none, none}, exitUsage, "--means is of one folder"},
	} {
		code, stdout, stderr := lab(c.args...)
		lines := strings.Split(strings.TrimSpace(stderr), "\n")
		if code != c.code || stdout != "" || !strings.Contains(lines[0], c.say) ||
			!strings.HasPrefix(lines[0], "blowdraw-lab: ") {
			t.Errorf("%q: exit code %d, %q, %q, want %d and %q", c.args, code, stdout, stderr, c.code, c.say)
		}
		if wantHint := c.code == exitUsage; (len(lines) == 2) != wantHint || wantHint &&
			!strings.HasPrefix(lines[1], "Try: blowdraw-lab") {
			t.Errorf("%q: %q", c.args, lines)
		}
	}
}

func TestHelp(t *testing.T) {
	code, stdout, stderr := lab()
	if code != 0 || stderr != "" {
		t.Errorf("exit code %d, %q", code, stderr)
	}
	for _, name := range []string{"make", "measure", "report", "fit"} {
		if !strings.Contains(stdout, "\n  "+name) {
			t.Errorf("the help has no %s:\n%s", name, stdout)
		}
	}
}

// clip writes a clip of four notes a second apart, played by the additive reeds of package
// render, and its truth into a folder.
func clip(t *testing.T, dir, name string) {
	t.Helper()
	h, err := harp.Parse("C", harp.Layouts()[0])
	if err != nil {
		t.Fatal(err)
	}
	f := truth.File{Harp: "C", Layout: "richter", Tier: "plain", Audio: name + ".wav", Seconds: 4.5}
	var played []render.Gesture
	for i, a := range []harp.Action{
		{Breath: harp.Draw, Hole: 4}, {Breath: harp.Blow, Hole: 5}, {Breath: harp.Draw, Hole: 2},
		{Breath: harp.Blow, Hole: 6},
	} {
		start := 0.5 + float64(i)
		played = append(played, render.Gesture{
			Start: start, End: start + 0.6, Actions: []harp.Action{a}, Attack: 0.03, Release: 0.04,
		})
		f.Phrases = append(f.Phrases, [2]float64{start, start + 0.6})
	}
	notes, events := render.Perform(h, render.Tuning{}, played)
	for _, e := range events {
		a := e.Actions[0]
		f.Events = append(f.Events, truth.Event{
			Start: e.Start, End: e.End, Breath: a.Breath.String(), Holes: []int{a.Hole}, Bends: []float64{0},
			MIDI: e.Pitches,
		})
	}
	const rate = 22050
	x := append(render.Render(notes, render.Set{Seed: 1}, rate), make([]float64, rate/2)...)
	err = files.Write(filepath.Join(dir, f.Audio), func(w io.Writer) error {
		return decode.WriteWAV(w, decode.Clip{Rate: rate, Samples: x})
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := truth.Write(truth.Of(dir, name), f); err != nil {
		t.Fatal(err)
	}
}

// Four plain notes are all right, whichever way the result is printed; heard from the
// third one on, two are left.
func TestMeasure(t *testing.T) {
	dir, kept := t.TempDir(), t.TempDir()
	clip(t, dir, "plain-1")
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"--json", kept}, "plain-1                1.000   1.000   1.000"},
		{[]string{"--tiers"}, "noteF              1.000\n"},
		{[]string{"--folders", "--from", "2.3"}, "       1   1.000   1.000   "},
		{[]string{"--real"}, "plain-1                    4       4   1.000   1.000"},
		{[]string{"--real", "--heard", kept}, "plain-1                    4       4   1.000   1.000"},
	} {
		code, stdout, stderr := lab(append(append([]string{"measure"}, c.args...), dir)...)
		if code != 0 || stderr != "" || !strings.Contains(stdout, c.want) {
			t.Errorf("%q: exit code %d, %s, want %q in\n%s", c.args, code, stderr, c.want, stdout)
		}
	}
	if code, stdout, stderr := lab("measure", "--tiers", dir, dir); code != 0 ||
		strings.Count(stdout, dir+"\n\n") != 2 {
		t.Errorf("two folders: %d, %s\n%s", code, stderr, stdout)
	}
	if code, _, stderr := lab("measure", "--first-beats", "0", dir); code != exitFailed ||
		!strings.Contains(stderr, "states its bars") {
		t.Errorf("bars of a clip without: %d, %q", code, stderr)
	}
}

// A report has the tables that can be made; a second one, without folders, keeps them.
func TestReport(t *testing.T) {
	dir, sets, out := t.TempDir(), t.TempDir(), filepath.Join(t.TempDir(), "RESULTS.md")
	clip(t, dir, "plain-1")
	code, _, stderr := lab("report", "--bench", dir, "--real", dir, "--sets", sets, "-o", out, "--only",
		"bench,real")
	if code != 0 || stderr != "" {
		t.Errorf("exit code %d, %s", code, stderr)
	}
	first, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"\n## Bench\n", "\n    $ blowdraw-lab measure --tiers BENCH\n", "\n    noteF              1.000\n",
		"\n    plain-1                    4       4   1.000",
	} {
		if !strings.Contains(string(first), want) {
			t.Errorf("no %q in\n%s", want, first)
		}
	}
	code, _, stderr = lab("report", "--sets", sets, "-o", out)
	if again, err := os.ReadFile(out); code != 0 || err != nil || !bytes.Equal(again, first) {
		t.Errorf("exit code %d, %v, %s\n%s", code, err, stderr, again)
	}
	for _, want := range []string{"Bench: no folder of the bench is given; its old table is kept",
		"Hard set, seed 99: 1 of 1 sets are not there"} {
		if !strings.Contains(stderr, want) {
			t.Errorf("not told %q: %s", want, stderr)
		}
	}
}
