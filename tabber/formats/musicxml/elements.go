package musicxml

import "encoding/xml"

// The elements that are written, named as in the schema and in its order.
type (
	scorePartwise struct {
		XMLName       xml.Name     `xml:"score-partwise"`
		Version       string       `xml:"version,attr"`
		Title         string       `xml:"work>work-title"`
		Software      string       `xml:"identification>encoding>software"`
		Miscellaneous []miscellany `xml:"identification>miscellaneous>miscellaneous-field"`
		Part          scorePart    `xml:"part-list>score-part"`
		Measures      measureList  `xml:"part"`
	}
	miscellany struct {
		Name string `xml:"name,attr"`
		Text string `xml:",chardata"`
	}
	scorePart struct {
		ID         string `xml:"id,attr"`
		Name       string `xml:"part-name"`
		Instrument struct {
			ID    string `xml:"id,attr"`
			Name  string `xml:"instrument-name"`
			Sound string `xml:"instrument-sound"`
		} `xml:"score-instrument"`
		MIDI struct {
			ID      string `xml:"id,attr"`
			Channel int    `xml:"midi-channel"`
			Program int    `xml:"midi-program"`
		} `xml:"midi-instrument"`
	}
	measureList struct {
		ID   string    `xml:"id,attr"`
		List []measure `xml:"measure"`
	}
	measure struct {
		Number     int         `xml:"number,attr"`
		Attributes *attributes `xml:"attributes"`
		Directions []direction `xml:"direction"`
		Notes      []any       // note and harmony elements, in order
		Barline    *barline    `xml:"barline"`
	}
	attributes struct {
		Divisions int    `xml:"divisions"`
		Fifths    int    `xml:"key>fifths"`
		Mode      string `xml:"key>mode"`
		Beats     int    `xml:"time>beats"`
		BeatType  int    `xml:"time>beat-type"`
		Clef      string `xml:"clef>sign"`
		Line      int    `xml:"clef>line"`
	}
	direction struct {
		Placement string        `xml:"placement,attr"`
		Type      directionType `xml:"direction-type"`
		Sound     *sound        `xml:"sound"`
	}
	directionType struct {
		Words     string     `xml:"words,omitempty"`
		Metronome *metronome `xml:"metronome"`
	}
	metronome struct {
		Unit      string `xml:"beat-unit"`
		Dot       *empty `xml:"beat-unit-dot"`
		PerMinute string `xml:"per-minute"`
	}
	sound struct {
		Tempo string `xml:"tempo,attr"`
	}
	barline struct {
		Location string `xml:"location,attr"`
		Style    string `xml:"bar-style"`
	}
	note struct {
		XMLName    xml.Name   `xml:"note"`
		Chord      *empty     `xml:"chord"`
		Pitch      *notePitch `xml:"pitch"`
		Rest       *empty     `xml:"rest"`
		Duration   int        `xml:"duration"`
		Ties       []typed    `xml:"tie"`
		Voice      int        `xml:"voice"`
		Type       string     `xml:"type"`
		Dot        *empty     `xml:"dot"`
		Accidental string     `xml:"accidental,omitempty"`
		TimeMod    *timeMod   `xml:"time-modification"`
		Beams      []beam     `xml:"beam"`
		Notations  *notations `xml:"notations"`
		Lyric      *lyric     `xml:"lyric"`
	}
	empty     struct{}
	notePitch struct {
		Step   string `xml:"step"`
		Alter  int    `xml:"alter,omitempty"`
		Octave int    `xml:"octave"`
	}
	timeMod struct {
		Actual int `xml:"actual-notes"`
		Normal int `xml:"normal-notes"`
	}
	typed struct {
		Type   string `xml:"type,attr"`
		Number int    `xml:"number,attr,omitempty"`
	}
	beam struct {
		Number int    `xml:"number,attr"`
		Text   string `xml:",chardata"`
	}
	notations struct {
		Tied          []typed        `xml:"tied"`
		Slur          []typed        `xml:"slur"`
		Tuplet        []typed        `xml:"tuplet"`
		Slide         []typed        `xml:"slide"`
		Ornaments     *ornaments     `xml:"ornaments"`
		Technical     *technical     `xml:"technical"`
		Articulations *articulations `xml:"articulations"`
	}
	bend struct {
		Alter   int   `xml:"bend-alter"`
		PreBend empty `xml:"pre-bend"`
	}
	technical struct {
		Bend  *bend    `xml:"bend"`
		Other []string `xml:"other-technical"`
	}
	ornaments struct {
		Shake    *empty  `xml:"shake"`
		WavyLine []typed `xml:"wavy-line"`
	}
	articulations struct {
		Accent     *empty `xml:"accent"`
		Scoop      *empty `xml:"scoop"`
		Falloff    *empty `xml:"falloff"`
		BreathMark *empty `xml:"breath-mark"`
	}
	harmony struct {
		XMLName xml.Name `xml:"harmony"`
		Step    string   `xml:"root>root-step"`
		Alter   int      `xml:"root>root-alter"`
		Kind    string   `xml:"kind"`
		Offset  int      `xml:"offset,omitempty"`
	}
	lyric struct {
		Syllabic string `xml:"syllabic"`
		Text     string `xml:"text"`
	}
)
