package main

import (
	"path/filepath"
	"strings"
	"testing"
)

// A song in minor stays so from command to command. G minor has two flats, the key
// signature of B flat major (the circle of fifths); fifths and mode are MusicXML 4.0's.
func TestMinorKey(t *testing.T) {
	dir := t.TempDir()
	recording, _ := demoTabFile(t, dir)
	const song = "\nsong:      Em, second position\n"
	heard := mustRun(t, "transcribe", recording, "--harp", "A", "--song-key", "Em", "--ear", "classical")
	plain := mustRun(t, "transcribe", recording, "--harp", "A", "--song-key", "E", "--ear", "classical")
	if heard != strings.Replace(plain, "song:      E,", "song:      Em,", 1) || !strings.Contains(heard, song) {
		t.Errorf("in minor\n%s\nin major\n%s", heard, plain)
	}
	json := mustRun(t, "transcribe", recording, "--harp", "A", "--song-key", "E minor", "--ear", "classical",
		"--format", "json")
	if !strings.Contains(json, `"song_key": "Em"`) {
		t.Errorf("JSON\n%.400s", json)
	}
	minor := put(t, dir, "minor.tab", []byte("blowdraw tab 1\nharp: C\nsong: Gm\ntempo: 90 bpm\nmeter: 4/4\n"+
		"bar 1 0:00 i\nPhrase\n0:00 0.5 -2\n0:00.667 0.5 -3'\n0:01.333 0.5 -4\n"))
	for args, want := range map[string]string{
		"check":              "C harp, second position in Gm",
		"retab --harp F":     "song:      Gm, third position",
		"retab --position 3": "song:      Dm, third position",
		"export --as tab":    "song:      Gm, second position",
	} {
		words := strings.Fields(args)
		if out := mustRun(t, append([]string{words[0], minor}, words[1:]...)...); !strings.Contains(out, want) {
			t.Errorf("%s: no %q in\n%s", args, want, out)
		}
	}
	if out := mustRun(t, "layout", "--harp", "C", "--song-key", "Gm"); !strings.Contains(out,
		"Degrees of Gm, position 2") {
		t.Errorf("layout\n%s", out)
	}
	for ext, as := range map[string]string{".mid": "midi", ".musicxml": "musicxml"} {
		file := filepath.Join(dir, "out"+ext)
		mustRun(t, "export", minor, "--as", as, "-o", file)
		if out := mustRun(t, "import", file, "--harp", "C"); !strings.Contains(out, "song:      Gm, second") {
			t.Errorf("%s comes back as\n%s", as, out)
		}
	}
	score := mustRun(t, "export", minor, "--as", "musicxml")
	for _, want := range []string{"<fifths>-2</fifths>", "<mode>minor</mode>"} {
		if !strings.Contains(score, want) {
			t.Errorf("no %s in the score", want)
		}
	}
}
