package tab

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// Mark says one thing about how an event is played. What does not apply, or was not
// measured, is 0.
type Mark struct {
	Name  string  // one of the Mark words
	Cents float64 // how far: a slide, a vibrato each way; for [OffPitch], above what the tab says
	// DB is how much louder: an accent; a vibrato each way; hands, brighter; for [Bleed],
	// the weaker reed against the other.
	DB      float64
	Hz      float64 // how many times a second: a vibrato, a shake there and back
	Seconds float64 // how long: a slide, hands that open or close; for a vibrato, until it begins
	// Confidence is the probability that the mark is right; 0 where none is told.
	Confidence float64
}

// Mark words.
const (
	Slap        = "slap"
	Pull        = "pull"
	Scoop       = "scoop"
	Fall        = "fall"
	Dip         = "dip"
	Release     = "release"
	Glide       = "glide"
	Vibrato     = "vibrato"
	HandVibrato = "hand-vibrato"
	Shake       = "shake"
	Accent      = "accent"
	Tongued     = "tongued"
	Legato      = "legato"
	Wah         = "wah"
	HandClose   = "hand-close"
	Bleed       = "bleed" // written as a number, such as -11dB
	OffPitch    = "cents" // written as a number, such as +30c
)

// MarkWord explains a mark. Main marks are those that change how a line sounds;
// the others are for the curious.
type MarkWord struct {
	Name, Meaning string
	Main          bool
}

// markWords are all marks, in the order in which they are written behind an event.
var markWords = []MarkWord{
	{Slap, "a tongue slap: a short burst of the holes beside it, then the note", true},
	{Pull, "the tongue covers all but this note of the chord before", false},
	{Tongued, "begun anew by the tongue, the breath goes on", true},
	{Legato, "goes on from the note before without a new attack", true},
	{Wah, "the hands open: dark at first, then bright", true},
	{Scoop, "begins low and slides up into the note", true},
	{Release, "slides up as the bend before it is let go", true},
	{Glide, "slides down into this bend from the note before", false},
	{Dip, "dips below the note and comes back", true},
	{Shake, "a fast shake between the two holes", true},
	{Vibrato, "throat vibrato: pitch and loudness swing together", true},
	{HandVibrato, "hand vibrato: loudness and tone swing, the pitch hardly", true},
	{Fall, "slides down at the end", true},
	{HandClose, "the hands close: bright at first, dark at the end", true},
	{Accent, "clearly louder than the notes around it", false},
	{Bleed, "-11dB: one of the two reeds only bleeds in, so many dB weaker", true},
	{OffPitch, "+30c or -30c: so many cents above or below what the tab says, on purpose or not", true},
}

// MarkWords lists all marks, in the order in which they are written behind an event.
func MarkWords() []MarkWord { return slices.Clone(markWords) }

// String is the mark as it stands in the text document.
func (m Mark) String() string {
	switch m.Name {
	case OffPitch:
		return fmt.Sprintf("%+dc", int(math.Round(m.Cents)))
	case Bleed:
		return fmt.Sprintf("%.0fdB", m.DB)
	}
	return m.Name
}

var (
	offPitchForm = regexp.MustCompile(`^[+-][0-9]{1,3}c$`)
	bleedForm    = regexp.MustCompile(`^-[0-9]{1,2}[dD][bB]$`)
)

// parseMark reads what String writes; ok is false for any other word.
func parseMark(word string) (m Mark, ok bool) {
	if word = plainSigns.Replace(word); offPitchForm.MatchString(word) {
		n, err := strconv.Atoi(strings.TrimSuffix(word, "c"))
		return Mark{Name: OffPitch, Cents: float64(n)}, err == nil
	}
	if bleedForm.MatchString(word) {
		n, err := strconv.Atoi(word[:len(word)-2])
		return Mark{Name: Bleed, DB: float64(n)}, err == nil
	}
	word = strings.ToLower(word)
	return Mark{Name: word}, word != OffPitch && word != Bleed && markPlace(word) >= 0
}

// markPlace is where a mark stands among the words, -1 if it is none.
func markPlace(name string) int {
	return slices.IndexFunc(markWords, func(w MarkWord) bool { return w.Name == name })
}

// SortMarks puts marks into the order in which they are written.
func SortMarks(marks []Mark) {
	slices.SortStableFunc(marks, func(a, b Mark) int { return markPlace(a.Name) - markPlace(b.Name) })
}

// MarksShown leaves the events with the marks that were asked for: "none", "main"
// or "all". Other words are an error.
func MarksShown(events []Event, which string) error {
	if which != "none" && which != "main" && which != "all" {
		return fmt.Errorf("%q: want none, main or all", which)
	}
	for i := range events {
		var kept []Mark
		for _, m := range events[i].Marks {
			if k := markPlace(m.Name); which == "all" || which == "main" && k >= 0 && MarkWords()[k].Main {
				kept = append(kept, m)
			}
		}
		events[i].Marks = kept
	}
	return nil
}

// Mark is the event's mark of that name, if it has it.
func (e Event) Mark(name string) (Mark, bool) {
	for _, m := range e.Marks {
		if m.Name == name {
			return m, true
		}
	}
	return Mark{}, false
}

// MarkText is the marks of an event in one line, as the text document has them.
func (e Event) MarkText() string {
	words := make([]string, len(e.Marks))
	for i, m := range e.Marks {
		words[i] = m.String()
	}
	return strings.Join(words, " ")
}

// legend lists the words of the marks that occur.
func (d Document) legend() []MarkWord {
	occurs := map[string]bool{}
	for _, e := range d.Events {
		for _, m := range e.Marks {
			occurs[m.Name] = true
		}
	}
	var out []MarkWord
	for _, w := range MarkWords() {
		if occurs[w.Name] {
			out = append(out, w)
		}
	}
	return out
}
