package tab

import "slices"

// joinNotes say how a section goes on in one breath.
var joinNotes = map[string]string{
	Tongued: "where the breath goes on, notes are mostly tongued; what is surely legato is marked",
	Legato:  "where the breath goes on, notes are mostly legato; what is surely tongued is marked",
}

// JoinNote is the note of a document in which notes that go on in one breath are mostly
// begun so, [Tongued] or [Legato], and only the others are marked.
func JoinNote(how string) string { return joinNotes[how] }

// UsualJoin is how notes that go on in one breath are mostly begun, as a note of the
// document says: [Tongued] or [Legato]; empty if none does.
func (d Document) UsualJoin() string {
	for _, how := range []string{Tongued, Legato} {
		if slices.Contains(d.Notes, joinNotes[how]) {
			return how
		}
	}
	return ""
}
