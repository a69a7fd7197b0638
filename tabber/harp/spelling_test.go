package harp

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"blowdraw/decode/programs"
)

// keys are the sharps (above 0) or flats (below) of each key signature, as in
// the circle of fifths of any handbook of music theory (from memory).
var keys = map[string]int{
	"C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5, "F#": 6, "F": -1, "Bb": -2, "Eb": -3, "Ab": -4, "Db": -5,
}

// The notes of a harp's key have the sharps or flats of its key signature,
// which are added in the order F C G D A E B, or the other way round (standard
// music theory), whatever the key of the song.
func TestKeySignatures(t *testing.T) {
	const order = "FCGDAEB"
	for name, count := range keys {
		var want []string
		for i := range order {
			switch {
			case i < count:
				want = append(want, order[i:i+1]+"#")
			case len(order)-1-i < -count:
				want = append(want, order[i:i+1]+"b")
			default:
				want = append(want, order[i:i+1])
			}
		}
		slices.Sort(want)
		h := mustHarp(t, name, "richter")
		for song := range 12 {
			var got []string
			for _, n := range []int{0, 2, 4, 5, 7, 9, 11} {
				got = append(got, strings.TrimRight(h.NoteName(h.Base+n, song), "0123456789"))
			}
			slices.Sort(got)
			if !slices.Equal(got, want) {
				t.Errorf("%s harp, song in %s: %v, want %v", name, h.KeyName(song), got, want)
			}
		}
	}
}

// Common practice, no source: how players spell the bends of draw 1 to 4 and 6
// and of blow 8 to 10 in second position, and other notes outside the harp's key.
func TestBentNotes(t *testing.T) {
	for _, c := range []struct{ harp, song, notes string }{
		{"C", "G", "Db4 F#4 F4 Bb4 A4 Ab4 Db5 Ab5 Eb6 F#6 B6 Bb6"},
		{"A", "E", "Bb3 D#4 D4 G4 F#4 F4 Bb4 F5 C6 D#6 G#6 G6"},
		{"Bb", "F", "B3 E4 Eb4 Ab4 G4 Gb4 B4 Gb5 Db6 E6 A6 Ab6"},
		{"F#", "C#", "G4 C5 B4 E5 D#5 D5 G5 D6 A6 C7 E#7 E7"},
		{"F#", "F#", "G4 C5 B4 E5 D#5 D5 G5 D6 A6 C7 E#7 E7"},
		{"C", "C", "Db4 Gb4 F4 Bb4 A4 Ab4 Db5 Ab5 Eb6 Gb6 B6 Bb6"},
		{"C", "D", "C#4 F#4 F4 Bb4 A4 Ab4 C#5 Ab5 Eb6 F#6 B6 Bb6"},
		{"G", "A", "G#3 C#4 C4 F4 E4 Eb4 G#4 Eb5 Bb5 C#6 F#6 F6"},
	} {
		h := mustHarp(t, c.harp, "richter")
		song, err := ParseKey(c.song)
		if err != nil {
			t.Fatal(err)
		}
		if got := h.KeyName(song); got != c.song {
			t.Errorf("%s harp: the song is in %s, want %s", c.harp, got, c.song)
		}
		var got []string
		for _, a := range h.Actions(false) {
			if a.Bend > 0 {
				got = append(got, h.NoteName(h.MIDI(a), song))
			}
		}
		if s := strings.Join(got, " "); s != c.notes {
			t.Errorf("%s harp in %s: bends are %s, want %s", c.harp, c.song, s, c.notes)
		}
	}
}

// Every name on every harp means its MIDI number to abc2midi, and the letters
// alone do in the harp's key: as text in ABC notation (Debian package abcmidi).
func TestSpellingInABC(t *testing.T) {
	programs.Need(t, "abc2midi", "mftext")
	for name, count := range keys {
		h := mustHarp(t, name, "richter")
		var notes []string
		var want []int
		for song := range 12 {
			for midi := h.Base; midi <= h.Base+12; midi++ {
				notes, want = append(notes, abc(t, h.NoteName(midi, song), true)), append(want, midi)
			}
		}
		for _, n := range []int{0, 2, 4, 5, 7, 9, 11, 12} {
			notes, want = append(notes, abc(t, h.NoteName(h.Base+n, 0), false)), append(want, h.Base+n)
		}
		signature, got := play(t, name, notes)
		if signature != count {
			t.Errorf("%s: key signature %d, want %d", name, signature, count)
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s harp: %v sound as\n%v, want\n%v", name, notes, got, want)
		}
	}
}

// abc writes a note name as ABC does, with its accidental if asked for.
func abc(t *testing.T, name string, accidental bool) string {
	t.Helper()
	m := regexp.MustCompile(`^([A-G])([#b]?)([1-9])$`).FindStringSubmatch(name)
	if m == nil {
		t.Fatalf("%q is no note name", name)
	}
	out := ""
	if accidental {
		out = map[string]string{"": "=", "#": "^", "b": "_"}[m[2]]
	}
	octave, _ := strconv.Atoi(m[3])
	if octave < 4 { // C4 is C
		return out + m[1] + strings.Repeat(",", 4-octave)
	}
	return out + m[1] + strings.Repeat("'", octave-4)
}

// play has abc2midi make a MIDI file of the notes, one a bar, and returns what
// mftext reads from it: sharps or flats of the key, and MIDI numbers.
func play(t *testing.T, key string, notes []string) (signature int, midi []int) {
	t.Helper()
	dir := t.TempDir()
	in, out := filepath.Join(dir, "notes.abc"), filepath.Join(dir, "notes.mid")
	text := fmt.Sprintf("X:1\nT:notes\nM:1/4\nL:1/4\nK:%s\n%s |\n", key, strings.Join(notes, " |\n"))
	if err := os.WriteFile(in, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	if b, err := exec.Command("abc2midi", in, "-o", out).CombinedOutput(); err != nil {
		t.Fatalf("abc2midi: %v\n%s", err, b)
	}
	b, err := exec.Command("mftext", out).Output()
	if err != nil {
		t.Fatalf("mftext: %v", err)
	}
	m := regexp.MustCompile(`sharp/flats=(-?\d+)`).FindSubmatch(b)
	if m == nil {
		t.Fatalf("mftext tells no key signature:\n%s", b)
	}
	signature, _ = strconv.Atoi(string(m[1]))
	for _, m := range regexp.MustCompile(`Note on, +chan=\d+ pitch=(\d+) vol=[1-9]`).FindAllSubmatch(b, -1) {
		n, _ := strconv.Atoi(string(m[1]))
		midi = append(midi, n)
	}
	return signature, midi
}

// Fifths are the signatures of the major keys around the circle of fifths (from memory),
// and on beyond seven sharps.
func TestFifths(t *testing.T) {
	signatures := map[string]int{
		"Gb": -6, "Db": -5, "Ab": -4, "Eb": -3, "Bb": -2, "F": -1, "C": 0,
		"G": 1, "D": 2, "A": 3, "E": 4, "B": 5, "F#": 6, "C#": 7, "G#": 8, "D#": 9, "A#": 10, "E#": 11,
	}
	seen := map[string]bool{}
	for key := range 12 {
		h := mustHarp(t, KeyName(key), "richter")
		for song := range 12 {
			name, n := h.KeyName(song), h.Fifths(song)
			want, known := signatures[name]
			if !known || n != want || PitchClass(7*n) != song {
				t.Errorf("%s harp in %s: %d fifths, want %d", h.Name, name, n, want)
			}
			seen[name] = true
		}
	}
	if len(seen) < 13 {
		t.Errorf("only the keys %v", seen)
	}
}
