// Package formats holds what the forms that a tab is given away in have in common:
// captions, the printed sheet, MIDI and MusicXML, each in a folder of its own. MIDI and
// MusicXML are read as well, as a melody, which becomes a tab.
package formats

import (
	"fmt"
	"strings"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// Doubt is the mark behind a doubtful event, as in the tab itself.
const Doubt = "?"

// Label is an event as it is written under a note or in a caption: its tab, or for
// a sound that the harp cannot play the notes' names, and a question mark if it is
// doubtful. Labels of notes played together hold spaces.
func Label(d tab.Document, e tab.Event) string {
	s := strings.Trim(d.EventToken(e), "{}")
	if e.Doubtful() {
		s += Doubt
	}
	return s
}

// Title is what the exported tab is called: the recording's file name without its
// ending, or the harp if the tab names no recording.
func Title(d tab.Document) string {
	if name := strings.TrimSpace(tab.OneLine(d.Recording)); name != "" {
		if i := strings.LastIndexByte(name, '.'); i > 0 {
			name = name[:i]
		}
		return name
	}
	return d.Harp.Name + " harp"
}

// HarpLine says in one line on which harp a tab is played, in which position and key, and
// how fast.
func HarpLine(d tab.Document) string {
	s := fmt.Sprintf("%s harp", d.Harp.Name)
	if d.Harp.Layout.Name != "richter" {
		s += " (" + tab.OneLine(d.Harp.Layout.Name) + ")"
	}
	s += fmt.Sprintf(", %s position, song in %s",
		harp.PositionName(d.HarpPosition()), d.SongName())
	if d.BPM > 0 {
		s += fmt.Sprintf(", %.0f beats a minute", d.BPM)
	}
	return s
}

// Fifths is the key signature of a tab's song key, spelled as the tab spells it: so many
// sharps, or with a minus flats, -7 to 7. That of a minor key is that of the major key a
// minor third above.
func Fifths(d tab.Document) int {
	n := d.Harp.Fifths(d.SongKey)
	if d.Minor {
		n -= 3
	}
	switch {
	case n > 7:
		n -= 12
	case n < -7:
		n += 12
	}
	return n
}
