package harp

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Keys as players name harps: flats, except F# (common practice, no source).
var keyNames = [12]string{"C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"}

var keyList = strings.Join(keyNames[:], " ")

var degreeNames = [12]string{"1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7"}

// Positions are counted in words (common practice, no source).
var positionNames = [12]string{
	"first", "second", "third", "fourth", "fifth", "sixth",
	"seventh", "eighth", "ninth", "tenth", "eleventh", "twelfth",
}

var simpleIntervals = [13]string{
	"unison", "minor second", "major second", "minor third", "major third", "fourth", "tritone",
	"fifth", "minor sixth", "major sixth", "minor seventh", "major seventh", "octave",
}

var compoundIntervals = [12]string{
	"", "minor ninth", "major ninth", "minor tenth", "major tenth", "eleventh", "octave and a tritone",
	"twelfth", "minor thirteenth", "major thirteenth", "minor fourteenth", "major fourteenth",
}

// keySigns are the ways in which sharps and flats are written, and those that are read.
var keySigns = strings.NewReplacer("♯", "#", "♭", "b", " sharp", "#", " flat", "b")

// ParseKey reads the name of a key: a letter A to G, upper or lower case, with
// any number of sharps (# or ♯) or flats (b or ♭), or the words sharp and flat.
// It returns the pitch class, 0 (C) to 11 (B).
func ParseKey(s string) (pc int, err error) {
	t := strings.ToLower(strings.TrimSpace(s))
	t = keySigns.Replace(t)
	if t == "" {
		return 0, fmt.Errorf("key is empty: want one of %s", keyList)
	}
	letter := strings.IndexByte("c d ef g a b", t[0])
	if letter < 0 || t[0] == ' ' {
		return 0, fmt.Errorf("key %q is not known: want one of %s", s, keyList)
	}
	pc = letter
	for _, c := range t[1:] {
		switch c {
		case '#':
			pc++
		case 'b':
			pc--
		default:
			return 0, fmt.Errorf("key %q is not known: want one of %s", s, keyList)
		}
	}
	return PitchClass(pc), nil
}

// ParseSongKey reads the key of a song: what [ParseKey] reads, for a minor key with m,
// min or minor behind it, for a major one with nothing, M, maj or major. It returns the
// pitch class of the tonic.
func ParseSongKey(s string) (pc int, minor bool, err error) {
	tonic := strings.TrimSpace(s)
	for _, mode := range []struct {
		word  string
		minor bool
	}{{"minor", true}, {"min", true}, {"major", false}, {"maj", false}} {
		if n := len(tonic) - len(mode.word); n > 0 && strings.EqualFold(tonic[n:], mode.word) {
			tonic, minor = tonic[:n], mode.minor
			pc, err = ParseKey(tonic)
			return pc, minor, err
		}
	}
	if cut, found := strings.CutSuffix(tonic, "m"); found {
		tonic, minor = cut, true
	} else {
		tonic = strings.TrimSuffix(tonic, "M")
	}
	pc, err = ParseKey(tonic)
	return pc, minor, err
}

// KeyName names a pitch class as players name harps: C Db D Eb E F F# G Ab A Bb
// B. [Harp.KeyName] names the key of a song played on a harp.
func KeyName(pc int) string { return keyNames[PitchClass(pc)] }

// Degree names a MIDI number (or pitch class) as a degree of the song's key:
// 1 b2 2 b3 3 4 b5 5 b6 6 b7 7.
func Degree(midi, songKey int) string { return degreeNames[PitchClass(midi-songKey)] }

// PositionName names a position, 1 to 12: "first" to "twelfth".
func PositionName(position int) string { return positionNames[position-1] }

// ParsePosition reads what [PositionName] writes, in upper or lower case; ok is false for
// any other word.
func ParsePosition(name string) (position int, ok bool) {
	i := slices.Index(positionNames[:], strings.ToLower(name))
	return i + 1, i >= 0
}

// Interval names the interval of that many semitones, up or down: "fifth",
// "minor seventh", "octave", beyond it "minor tenth", "two octaves", "two
// octaves and a fifth".
func Interval(semitones int) string {
	n := semitones
	if n < 0 {
		n = -n
	}
	if n <= 12 {
		return simpleIntervals[n]
	}
	if n < 24 {
		return compoundIntervals[n-12]
	}
	name := "two octaves"
	if n >= 36 {
		name = strconv.Itoa(n/12) + " octaves"
		if n < 48 {
			name = "three octaves"
		}
	}
	if n%12 == 0 {
		return name
	}
	return name + " and a " + simpleIntervals[n%12]
}
