package tab

import (
	"blowdraw/tabber/harp"
)

// Event is one note, double stop, split or chord: reeds that start together.
//
// Actions are the reeds, ascending by hole, all of one breath. They are empty
// for a sound that the harp cannot play; the first of Alternatives is then the
// nearest thing it can. Pitches are the measured pitches as fractional MIDI
// numbers, as they sound in the recording (its tuning offset included), one for
// each action, or for each sounding pitch when Actions is empty.
type Event struct {
	Start, End   float64 // seconds from the start of the recording
	Actions      []harp.Action
	Pitches      []float64
	Texture      string        // one of the Texture words; see [Texture]
	Confidence   float64       // probability that Actions are right, 0 to 1
	Alternatives []Alternative // other readings, likeliest first
	Doubts       []Doubt       // what is in doubt, likeliest first; none for events that are sure
	Checked      bool          // somebody has found it right by ear
	Marks        []Mark        // how it is played, in the order of [MarkWords]
	Join         Join          // how it goes on from the event before in the same breath
	Loudness     float64       // dB against the usual event of the section; 0 if it was not measured
	Comment      string        // the reader's own words at the end of the line, without the #
	Line         int           // line of the text that it was read from, from 1; 0 for none
}

// LeastBPM and MostBPM bound the tempo of a document, in beats a minute.
const LeastBPM, MostBPM = 1, 1000

// Join is how an event goes on from the one before in the same breath; the zero Join
// where it does not, or was not measured.
type Join struct {
	Tongued float64 // probability that the tongue begins it anew; otherwise it is legato
	DipDB   float64 // by which the level falls between the two
	GapMS   float64 // for which it is 6 dB down or more
	AirDB   float64 // by which what lies between the partials stands out at the start
	Again   bool    // a reed sounds again that sounded before
}

// doubtfulJoin is how sure a join is at least that is told.
const doubtfulJoin = 0.7

// How is [Tongued] or [Legato]; empty if it is neither surely.
func (j Join) How() string {
	switch {
	case j == Join{} || j.Sure() < doubtfulJoin:
		return ""
	case j.Tongued > 0.5:
		return Tongued
	}
	return Legato
}

// Sure is the probability of what is likelier.
func (j Join) Sure() float64 { return max(j.Tongued, 1-j.Tongued) }

// Alternative is another reading of an event.
type Alternative struct {
	Actions    []harp.Action
	Confidence float64 // probability, 0 to 1; 0 where none is told
	For        int     // the note that it is for, a MIDI number, where it is for one of several; else 0
}

// Phrase is a sounding stretch between two spaces, in seconds from the start of
// the recording. It is checked if somebody has found all of it right by ear.
type Phrase struct {
	Start, End float64
	Checked    bool
}

// Remark is a comment on a line of its own. Before is the index of the event
// that it stands above: len(Events) for the end of the document, -1 for the
// header. With Heading it stands above the heading of the phrase that begins there.
type Remark struct {
	Before  int
	Text    string // without the #
	Heading bool
}

// HeaderLine is a line of the header that the document itself does not use.
type HeaderLine struct{ Name, Value string }

// Document is the transcription of one section of a recording.
type Document struct {
	Recording   string  // file name as the reader knows it
	From, To    float64 // the section, seconds from the start of the recording
	Harp        harp.Harp
	SongKey     int     // pitch class of the tonic, 0 (C) to 11 (B)
	Minor       bool    // the song is in minor
	SongAssumed bool    // the key is only the usual one for the harp, neither given nor heard
	TuningCents float64 // how far the recording is from A4 = 440 Hz; positive is sharp
	Channel     string  // which channel was heard: "mix", "left", "right", ...; may be empty
	Events      []Event // by Start
	Phrases     []Phrase
	BPM         float64  // beats a minute, 0 if unknown
	Meter       string   // one of Meters; may be empty
	Form        string   // of the song, such as twelve-bar; bar 1 begins it; may be empty
	Bars        []Bar    // by Start, numbered one after the other; none if unknown
	Ear         string   // which method listened; may be empty
	Notes       []string // warnings for the reader, one line each
	Other       []HeaderLine
	Remarks     []Remark // the reader's own comment lines, in document order
}

// Words for how many reeds sound together.
const (
	Single = "single" // one reed
	Double = "double" // two neighbouring holes
	Split  = "split"  // two holes with blocked holes between
	Chord  = "chord"  // three reeds or more
)

// Texture is the word for the actions, given ascending by hole: [Single],
// [Double], [Split] or [Chord]; empty for none.
func Texture(a []harp.Action) string {
	switch {
	case len(a) == 0:
		return ""
	case len(a) == 1:
		return Single
	case len(a) > 2:
		return Chord
	case a[1].Hole-a[0].Hole == 1:
		return Double
	}
	return Split
}
