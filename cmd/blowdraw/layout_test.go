package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// Common practice, no source: the note chart of a C harp, and its degrees in
// second position.
func TestLayoutTable(t *testing.T) {
	h, err := harp.Parse("C", harp.Layouts()[0])
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := layoutTable(&b, tab.Document{Harp: h, SongKey: 7}, true, true); err != nil {
		t.Fatal(err)
	}
	const want = `C harp, richter layout. Hole 1 blow is C4; C4 is middle C.

overblow  Eb4  Ab4  C5   Eb5  F#5  Bb5
blow ''                                                Bb6
blow '                                       Eb6  F#6  B6
blow      C4   E4   G4   C5   E5   G5   C6   E6   G6   C7
hole      1    2    3    4    5    6    7    8    9    10
draw      D4   G4   B4   D5   F5   A5   B5   D6   F6   A6
draw '    Db4  F#4  Bb4  Db5       Ab5
draw ''        F4   A4
draw '''            Ab4
overdraw                                Db6  F6   Ab6  Db7

Degrees of G, position 2

overblow  b6   b2   4    b6   7    b3
blow ''                                                b3
blow '                                       b6   7    3
blow      4    6    1    4    6    1    4    6    1    4
hole      1    2    3    4    5    6    7    8    9    10
draw      5    1    3    5    b7   2    3    5    b7   2
draw '    b5   7    b3   b5        b2
draw ''        b7   2
draw '''            b2
overdraw                                b5   b7   b2   b5
`
	if got := b.String(); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	b.Reset()
	if err := layoutTable(&b, tab.Document{Harp: h}, false, false); err != nil ||
		strings.Contains(b.String(), "over") ||
		strings.Contains(b.String(), "Degrees") {
		t.Errorf("%v\n%s", err, b.String())
	}
}

func TestLayoutCommand(t *testing.T) {
	dir := t.TempDir()
	own := filepath.Join(dir, "own.txt")
	if err := os.WriteFile(own, []byte("name: mine\nC4 E G C\nD G B D\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	bad := filepath.Join(dir, "bad.txt")
	if err := os.WriteFile(bad, []byte("C4 E G C\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args string
		say  string
		ok   bool
	}{
		{"--harp D --song-key A", "Degrees of A, position 2", true},
		{"--harp bb --layout COUNTRY", "country layout", true},
		{"--harp F --layout " + own, "F harp, mine layout", true},
		{"", "--harp C", false},
		{"--harp C more", `"more" is one word too many`, false},
		{"--harp H", `harp "H" is not known`, false},
		{"--harp C --song-key H", `--song-key: key "H"`, false},
		{"--harp C --layout spiral", "neither a known layout (richter, country", false},
		{"--harp C --layout " + bad, "1 rows of notes", false},
		{"--harp C --layout " + dir, "reading the layout", false},
	} {
		var b bytes.Buffer
		cmd := newLayoutCommand()
		cmd.SetArgs(strings.Fields(c.args))
		cmd.SetOut(&b)
		cmd.SilenceErrors, cmd.SilenceUsage = true, true
		err := cmd.Execute()
		if (err == nil) != c.ok {
			t.Errorf("layout %s: error %v", c.args, err)
			continue
		}
		text := b.String()
		if err != nil {
			text = err.Error()
		}
		if !strings.Contains(text, c.say) {
			t.Errorf("layout %s: %q; want %q in it", c.args, text, c.say)
		}
	}
}
