// Package export holds what the forms that a tab is given away in have in common:
// captions, the printed sheet, MIDI and MusicXML, each in a folder of its own.
package export

import (
	"strings"

	"blowdraw/tabber/tab"
)

// Doubt is the mark behind a doubtful event, as in the tab itself.
const Doubt = "?"

// Label is an event as it is written under a note or in a caption: its tab, or for
// a sound that the harp cannot play the notes' names, and a question mark if it is
// doubtful. Labels of notes played together hold spaces.
func Label(d tab.Document, e tab.Event) string {
	s := tab.Token(e.Actions)
	if s == "" {
		s = strings.Trim(d.PitchToken(e.Pitches), "{}")
	}
	if e.Doubtful() {
		s += Doubt
	}
	return s
}

// Title is what the exported tab is called: the recording's file name without its
// ending, or the harp if the tab names no recording.
func Title(d tab.Document) string {
	if name := strings.TrimSpace(d.Recording); name != "" {
		if i := strings.LastIndexByte(name, '.'); i > 0 {
			name = name[:i]
		}
		return name
	}
	return d.Harp.Name + " harp"
}

// Fifths is the key signature of a tab's song key as a major key, spelled as the tab
// spells it: so many sharps, or with a minus flats, -7 to 7.
func Fifths(d tab.Document) int {
	name := d.Harp.KeyName(d.SongKey)
	n := strings.Index("FCGDAEB", name[:1]) - 1
	n += 7 * (strings.Count(name, "#") - strings.Count(name, "b"))
	switch {
	case n > 7:
		n -= 12
	case n < -7:
		n += 12
	}
	return n
}
