package main

import (
	"strings"
	"testing"
)

// Without --song-key the header says whether the key was heard or is only the usual one; a key that
// is given is neither. Commands that take a tab keep what it says.
func TestSongAssumed(t *testing.T) {
	dir := t.TempDir()
	without := put(t, dir, "without.tab", []byte("blowdraw tab 1\nharp: C\n0:00 0.5 -2\n"))
	out := mustRun(t, "export", without, "--as", "tab")
	if !strings.Contains(out, "song:      G, second position (assumed)\n") {
		t.Errorf("without a line for the key:\n%s", out)
	}
	again := put(t, dir, "again.tab", []byte(out))
	for args, want := range map[string]string{
		"export --as tab":    "song:      G, second position (assumed)\n",
		"export --as json":   `"song_assumed": true`,
		"retab --harp F":     "song:      G, third position (assumed)\n",
		"retab --song-key D": "song:      D, second position\n",
	} {
		words := strings.Fields(args)
		if out := mustRun(t, append([]string{words[0], again}, words[1:]...)...); !strings.Contains(out, want) {
			t.Errorf("%s: no %q in\n%s", args, want, out)
		}
	}
}

// For a key the harp is that of the tab's position in it: common practice, no source (a G harp
// for D in second position, an F harp for C). A tab with notes that only first position has, and
// is in second, would be found in another.
func TestRetabToKey(t *testing.T) {
	dir := t.TempDir()
	file := put(t, dir, "a.tab", []byte("blowdraw tab 1\nharp: A\nsong: E\n"+
		"0:00 0.5 -2\n0:01 0.5 -3'\n0:02 0.5 [-4 -5]\n"))
	for args, want := range map[string][]string{
		"--song-key C":               {"harp:      F\n", "song:      C, second position\n", "-3'", "[-4 -5]"},
		"--song-key D":               {"harp:      G\n", "song:      D, second position\n"},
		"--song-key Dm --position 3": {"harp:      C\n", "song:      Dm, third position\n"},
		"--song-key C --harp C":      {"harp:      C\n", "song:      C, first position\n"},
	} {
		out := mustRun(t, append([]string{"retab", file}, strings.Fields(args)...)...)
		for _, w := range want {
			if !strings.Contains(out, w) {
				t.Errorf("%s: no %q in\n%s", args, w, out)
			}
		}
	}
	for args, say := range map[string]string{
		"--song-key C --harp C --position 1": "two say what the third is",
		"--song-key C --keep holes":          "can't be given as well",
		"--song-key H":                       "--song-key",
		"":                                   "for which harp?",
	} {
		code, _, told := command(append([]string{"retab", file}, strings.Fields(args)...)...)
		if code != 2 || !strings.Contains(told, say) {
			t.Errorf("%s: exit code %d, %q; want %q", args, code, told, say)
		}
	}
}
