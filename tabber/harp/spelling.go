package harp

import (
	"strconv"
	"strings"
)

// NoteName names a MIDI number with its octave, 60 being C4 (the octave number
// changes at C), spelled for a song in that key on this harp. The notes of the
// harp's major key are spelled as its key signature has them: C# on an A harp,
// Db on an Ab harp. The other five are spelled as the degrees of the song's key
// that [Degree] tells, so in second position the flat third, fifth and seventh
// are flats and draw 2 bent is the sharp seventh: F# on a C harp. Of these, what
// is a white key of the piano goes by its plain letter, B and not Cb. The key
// signatures are the circle of fifths; the rest is common practice, no source.
func (h Harp) NoteName(midi, songKey int) string {
	return h.spell(midi, songKey) + strconv.Itoa((midi-PitchClass(midi))/12-1)
}

// KeyName names the key of a song on this harp, a pitch class, by the circle of
// fifths from the harp's own key: on an F# harp second position is C#, on an Ab
// harp fourth is F.
func (h Harp) KeyName(songKey int) string { return h.spell(songKey, songKey) }

// Fifths is how many fifths above C the key of a song on this harp lies, as
// [Harp.KeyName] spells it: the sharps of its major key's signature, or with a minus the
// flats. Where the signature would have more than seven it counts on, to 11
// for E#.
func (h Harp) Fifths(songKey int) int { return h.fifthsTo(songKey, songKey) }

// spell names a note without its octave. Names never cross the octave number at C.
func (h Harp) spell(midi, songKey int) string { return letter(h.fifthsTo(midi, songKey)) }

// fifthsTo is how many fifths above C a note lies as it is spelled: up to the sharps,
// below 0 down to the flats.
func (h Harp) fifthsTo(midi, songKey int) int {
	tonic := fifths(h.Key())
	if n := tonic - 1 + PitchClass(7*(midi-h.Base)+1); n <= tonic+5 {
		return n // in the harp's major key, which has 4 one fifth below it and 7 five above
	}
	song := tonic + PitchClass(7*(songKey-h.Base))
	if song > tonic+6 {
		song -= 12
	}
	n := song - 6 + PitchClass(7*midi-song+6) // from b5 to 7 of the song's key
	switch {
	case n < -6: // Cb and beyond
		n += 12
	case n > 10: // E# and beyond
		n -= 12
	}
	return n
}

// fifths is how far a harp's key lies from C on the circle of fifths: -5 (Db)
// to 6 (F#), also the number of sharps or flats of its key signature.
func fifths(key int) int { return PitchClass(7*key+5) - 5 }

// letter names the note that lies so many fifths above C.
func letter(fifths int) string {
	const letters = "FCGDAEB"
	n := fifths + 1 + 7*len(letters) // not negative
	accidentals := n/len(letters) - 7
	sign := "#"
	if accidentals < 0 {
		sign, accidentals = "b", -accidentals
	}
	return letters[n%len(letters):][:1] + strings.Repeat(sign, accidentals)
}
