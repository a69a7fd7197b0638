package harp

import "testing"

// The usual names of keys (common practice, no source).
func TestParseSongKey(t *testing.T) {
	for s, want := range map[string]struct {
		pc    int
		minor bool
	}{
		"G": {7, false}, "g": {7, false}, "Gm": {7, true}, "gm": {7, true}, "G m": {7, true}, "GM": {7, false},
		"G minor": {7, true}, "G Minor": {7, true}, "Gmin": {7, true}, "G major": {7, false}, "Gmaj": {7, false},
		"Bbm": {10, true}, "F#m": {6, true}, "F sharp minor": {6, true}, "E♭m": {3, true}, " Am ": {9, true},
	} {
		if pc, minor, err := ParseSongKey(s); err != nil || pc != want.pc || minor != want.minor {
			t.Errorf("%q: %d, %v, %v; want %+v", s, pc, minor, err, want)
		}
	}
	for _, s := range []string{"", "m", "minor", "Hm", "Gmm", "G minorish", "Gm7", "MG"} {
		if pc, minor, err := ParseSongKey(s); err == nil {
			t.Errorf("%q is read as %d, %v", s, pc, minor)
		}
	}
}
