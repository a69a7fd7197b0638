package tab

import "strings"

// checkedWord says that somebody has found an event, or a phrase, right by ear.
const checkedWord = "checked"

// isChecked reports whether a word says that an event was checked by ear.
func isChecked(word string) bool { return strings.EqualFold(word, checkedWord) || word == "!" }

// IsChecked reports whether an event was found right by ear, itself or with its phrase.
func (d Document) IsChecked(e Event) bool {
	i := phraseOf(d.Phrases, e)
	return e.Checked || i >= 0 && d.Phrases[i].Checked
}

// Seen says how much of a document was checked by ear: events, and seconds of them.
type Seen struct {
	Checked, Events         int
	CheckedSeconds, Seconds float64
}

// Seen is how much of the document was checked by ear.
func (d Document) Seen() Seen {
	var s Seen
	for _, e := range d.Events {
		s.Events++
		s.Seconds += e.End - e.Start
		if d.IsChecked(e) {
			s.Checked++
			s.CheckedSeconds += e.End - e.Start
		}
	}
	return s
}

// doubtColumn is what stands behind the marks of an event: that it was checked, and its
// doubt.
func (d Document) doubtColumn(e Event) string {
	if !e.Checked {
		return d.Doubt(e)
	}
	return strings.TrimRight(checkedWord+" "+d.Doubt(e), " ")
}
