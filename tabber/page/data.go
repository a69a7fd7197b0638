package page

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"math"
	"strings"

	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// data is what the scripts get. Times are in milliseconds from the start of the
// recording, notes are MIDI numbers on the harp, whatever the recording's tuning.
type data struct {
	ID        string    `json:"id"`   // changes with the tab
	File      string    `json:"file"` // name of the file to save
	Link      string    `json:"link"` // address of the recording; empty: it is in the page
	From      int       `json:"from"` // of the section
	To        int       `json:"to"`
	Cents     float64   `json:"cents"` // tuning of the recording
	Holes     int       `json:"holes"`
	Cells     []cell    `json:"cells"`
	Intervals []string  `json:"intervals"` // names, by semitones
	Marks     []mark    `json:"marks"`     // words for how an event is played, in their order
	Meters    []meter   `json:"meters"`    // that a document may have; the first where it has none
	Lines     []line    `json:"lines"`     // of the document
	Beats     []float64 `json:"beats"`     // when they are; none if the tempo is not known
	Places    []place   `json:"places"`    // where an event can begin in its bar, by time
	Wave      []byte    `json:"wave"`      // peaks of the waveform, 255 is full scale
	WaveMS    float64   `json:"waveMS"`    // milliseconds from one to the next
	Curve     []byte    `json:"curve"`     // voices pitches a frame in 16 bits, low byte first: cents
	CurveMS   float64   `json:"curveMS"`   // milliseconds from one frame to the next
	Voices    int       `json:"voices"`
}

// cell is one thing that one hole can do.
type cell struct {
	Tab    string `json:"tab"`
	Say    string `json:"say"` // in words
	Hole   int    `json:"hole"`
	Breath string `json:"breath"`
	Bend   int    `json:"bend"` // semitones down; negative: overblow or overdraw
	Degree string `json:"degree"`
	Note   string `json:"note"`
	MIDI   int    `json:"midi"`
}

// line is one line of the document. Those of kind event, and the one of kind columns
// with their names, are written afresh from their columns; the others stand as they
// are.
type line struct {
	Kind  string `json:"kind"` // text, columns, event, phrase, space, bar or legend
	Text  string `json:"text,omitempty"`
	Start int    `json:"start,omitempty"`
	End   int    `json:"end,omitempty"`

	// of an event
	Place   string   `json:"place,omitempty"`
	Tab     string   `json:"tab,omitempty"`
	Degree  string   `json:"degree,omitempty"`
	Marks   string   `json:"marks,omitempty"`
	Doubt   string   `json:"doubt,omitempty"`
	Doubts  string   `json:"doubts,omitempty"` // what is in doubt, in words
	Comment string   `json:"comment,omitempty"`
	Say     string   `json:"say,omitempty"`
	Notes   []int    `json:"notes,omitempty"`
	Options []string `json:"options,omitempty"` // other readings, likeliest first; rest for none
	Shares  []int    `json:"shares,omitempty"`  // of them, in percent
	Fors    []string `json:"fors,omitempty"`    // the note of several that each is for, empty for all

	Checked bool `json:"checked,omitempty"` // an event or a phrase, by ear

	// of a phrase or a bar
	Number int    `json:"number,omitempty"`
	Chord  string `json:"chord,omitempty"`

	Mark string `json:"mark,omitempty"` // that a line of the legend explains
}

// mark is a word for how an event is played. One that is measured stands as a number in
// the document, and can only be taken away.
type mark struct {
	Name     string `json:"name"`
	Meaning  string `json:"meaning"`
	Measured bool   `json:"measured"`
}

// meter is how beats make bars.
type meter struct {
	Name  string `json:"name"`
	Beats int    `json:"beats"` // of a bar
	Parts []int  `json:"parts"` // of a beat at which events begin, in twelfths
}

// place is a place in a bar such as 2|3, and when that is.
type place struct {
	At   int    `json:"at"`
	Name string `json:"name"`
}

func dataOf(p Page) (data, error) {
	var text bytes.Buffer
	if err := tab.WriteText(&text, p.Tab); err != nil {
		return data{}, err
	}
	d, err := tab.Parse(bytes.NewReader(text.Bytes())) // with the numbers of its lines
	if err != nil {
		return data{}, err
	}
	sum := sha256.Sum256(text.Bytes())
	to := p.From + float64(len(p.Samples))/float64(p.Rate)
	out := data{
		ID: hex.EncodeToString(sum[:8]), File: fileName(d), Link: p.Link, Cents: d.TuningCents,
		From: tab.Millis(p.From), To: tab.Millis(to), Holes: d.Harp.Layout.Holes(), Cells: cells(d),
		Lines: lines(d, text.String()), Beats: beats(d, p.From, to), Places: places(d, p.From, to),
		Wave: wave(p), WaveMS: 1000 / peaks, Curve: curve(p, d.TuningCents), CurveMS: 1000 * pitch.HopSeconds,
		Voices: voices,
	}
	for _, name := range []string{"4/4", "12/8", "3/4"} {
		out.Meters = append(out.Meters, meter{name, tab.Meters[name], tab.Parts(name)})
	}
	for _, w := range tab.MarkWords() {
		measured := w.Name == tab.Bleed || w.Name == tab.OffPitch
		out.Marks = append(out.Marks, mark{w.Name, w.Meaning, measured})
	}
	for n := range mostInterval {
		out.Intervals = append(out.Intervals, harp.Interval(n))
	}
	return out, nil
}

// mostInterval is wider than any harp, in semitones.
const mostInterval = 61

// cells of the harp: all notes, bends and overbends.
func cells(d tab.Document) []cell {
	var out []cell
	for _, a := range d.Harp.Actions(true) {
		m := d.Harp.MIDI(a)
		out = append(out, cell{
			Tab: tab.Token([]harp.Action{a}), Say: say(a),
			Hole: a.Hole, Breath: a.Breath.String(), Bend: a.Bend,
			Degree: harp.Degree(m, d.SongKey), Note: d.Harp.NoteName(m, d.SongKey), MIDI: m,
		})
	}
	return out
}

// say names an action in words, for those who hear the page read out.
func say(a harp.Action) string {
	s := fmt.Sprintf("%s %d", a.Breath, a.Hole)
	switch {
	case a.Bend < 0:
		return fmt.Sprintf("over%s %d", a.Breath, a.Hole)
	case a.Bend == 1:
		return s + ", bent 1 semitone"
	case a.Bend > 1:
		return fmt.Sprintf("%s, bent %d semitones", s, a.Bend)
	}
	return s
}

// lines takes a document's own text apart.
func lines(d tab.Document, text string) []line {
	texts := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	out := make([]line, len(texts))
	phrases, bars := d.Phrases, d.Bars
	legend := false
	for i, t := range texts {
		out[i] = line{Kind: "text", Text: t}
		switch word, _, _ := strings.Cut(strings.TrimLeft(t, " "), " "); {
		case legend:
			out[i] = line{Kind: "legend", Text: t, Mark: word}
		case word == "Marks":
			legend = true
			out[i-1].Kind, out[i].Kind = "legend", "legend"
		case word == "time":
			out[i] = line{Kind: "columns"}
		case word == "Phrase":
			out[i] = line{
				Kind: "phrase", Text: t, Number: len(d.Phrases) - len(phrases) + 1,
				Start: tab.Millis(phrases[0].Start), End: tab.Millis(phrases[0].End),
				Checked: phrases[0].Checked,
			}
			phrases = phrases[1:]
		case word == "space":
			out[i].Kind = "space"
		case word == "bar":
			out[i] = line{
				Kind: "bar", Text: t, Number: bars[0].Number,
				Start: tab.Millis(bars[0].Start), Chord: bars[0].Chord,
			}
			bars = bars[1:]
		}
	}
	for _, e := range d.Events {
		out[e.Line-1] = eventLine(d, e)
	}
	return out
}

func eventLine(d tab.Document, e tab.Event) line {
	r := d.Row(e)
	l := line{
		Kind: "event", Start: tab.Millis(e.Start), End: tab.Millis(e.End), Comment: e.Comment,
		Place: r[2], Tab: r[3], Degree: r[4], Marks: r[5], Doubt: d.Doubt(e), Notes: d.Sounding(e),
		Doubts: e.DoubtWordsOf(), Checked: e.Checked,
	}
	var words []string
	for _, a := range e.Actions {
		words = append(words, say(a))
	}
	if l.Say = strings.Join(words, " with "); len(words) == 0 {
		l.Say = strings.Trim(l.Tab, "{}") + ", not on this harp"
	}
	for _, a := range d.Others(e) {
		l.Options = append(l.Options, cmp.Or(tab.Token(a.Actions), "rest"))
		l.Shares = append(l.Shares, int(math.Round(100*a.Confidence)))
		note := ""
		if a.For > 0 {
			note = d.Harp.NoteName(a.For, d.SongKey)
		}
		l.Fors = append(l.Fors, note)
	}
	return l
}

// beats lists when the beats from one time to another are.
func beats(d tab.Document, from, to float64) []float64 {
	out := []float64{} // never null
	first, ok := d.BeatAt(from)
	last, _ := d.BeatAt(to)
	for k := int(math.Floor(first)); ok && k <= int(math.Ceil(last)); k++ {
		at := float64(k) * 60 / d.BPM
		if len(d.Bars) > 0 {
			if at, ok = d.TimeAt(d.BeatPlace(k)); !ok {
				ok = true
				continue // before the recording
			}
		}
		out = append(out, 1000*at)
	}
	return out
}

// places lists where events can begin from one time to another, if the document has
// bars.
func places(d tab.Document, from, to float64) []place {
	out := []place{} // never null
	if len(d.Bars) == 0 {
		return out
	}
	first, ok := d.BeatAt(from)
	last, _ := d.BeatAt(to)
	for k := int(math.Floor(first)); ok && k <= int(math.Ceil(last)); k++ {
		p := d.BeatPlace(k)
		for _, p.Twelfths = range tab.Parts(d.Meter) {
			if at, ok := d.TimeAt(p); ok {
				out = append(out, place{tab.Millis(at), p.String()})
			}
		}
	}
	return out
}

// peaks a second of the waveform.
const peaks = 100

func wave(p Page) []byte {
	out := make([]byte, int(math.Ceil(float64(len(p.Samples))*peaks/float64(p.Rate))))
	for i, x := range p.Samples {
		k := i * peaks / p.Rate
		out[k] = max(out[k], byte(min(255*math.Abs(x), 255)))
	}
	return out
}

// voices is how many pitches of a frame are shown.
const voices = 4

// curve is what was heard, in cents above MIDI 0 less the tuning; what is missing is 0.
func curve(p Page, tuning float64) []byte {
	out := []byte{} // never null
	for _, heard := range p.Pitches {
		for i := range voices {
			c := 0.0
			if i < len(heard) {
				c = min(max(100*heard[i]-tuning, 0), math.MaxInt16)
			}
			out = binary.LittleEndian.AppendUint16(out, uint16(math.Round(c)))
		}
	}
	return out
}
