package tab

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"io"

	"blowdraw/tabber/harp"
)

// The JSON form. Times are in seconds from the start of the recording, pitches
// fractional MIDI numbers.
type (
	jsonEvent struct {
		Start        json.Number       `json:"start"`
		End          json.Number       `json:"end"`
		Breath       *string           `json:"breath"` // null when the harp cannot play it
		Holes        []int             `json:"holes"`
		Bends        []int             `json:"bends"` // semitones down; negative: overblow or overdraw
		Pitches      []json.Number     `json:"pitches"`
		Texture      string            `json:"texture"`
		Confidence   json.Number       `json:"confidence"`
		Tab          string            `json:"tab"`
		Notes        []string          `json:"notes"`
		Degrees      []string          `json:"degrees"`
		Interval     string            `json:"interval,omitempty"` // lowest to highest of two reeds or more
		Nearest      string            `json:"nearest,omitempty"`
		Doubtful     bool              `json:"doubtful"`
		Doubts       []jsonDoubt       `json:"doubts"` // what is in doubt
		Checked      bool              `json:"checked,omitempty"`
		Alternatives []jsonAlternative `json:"alternatives"`
		Marks        []string          `json:"marks"`
		Played       map[string]played `json:"played,omitempty"`      // what was measured of each mark
		LoudnessDB   json.Number       `json:"loudness_db,omitempty"` // against the section's usual event
		Join         *jsonJoin         `json:"join,omitempty"`        // from the event before
		Place        string            `json:"place,omitempty"`       // bar and beat
		Chord        string            `json:"chord,omitempty"`       // under its start
		ChordDegrees []string          `json:"chord_degrees,omitempty"`
		Comment      string            `json:"comment,omitempty"`
	}
	played struct {
		Cents   json.Number `json:"cents,omitempty"`
		DB      json.Number `json:"db,omitempty"`
		Hz      json.Number `json:"hz,omitempty"`
		Seconds json.Number `json:"seconds,omitempty"`

		Confidence json.Number `json:"confidence,omitempty"`
	}
	jsonJoin struct {
		How     string      `json:"how"`     // tongued, legato or unsure
		Tongued json.Number `json:"tongued"` // probability
		DipDB   json.Number `json:"dip_db"`
		GapMS   json.Number `json:"gap_ms"`
		AirDB   json.Number `json:"air_db"`
	}
	jsonAlternative struct {
		Tab        string      `json:"tab"`
		Breath     *string     `json:"breath"`
		Holes      []int       `json:"holes"`
		Bends      []int       `json:"bends"`
		For        string      `json:"for,omitempty"` // the note that it is for, of several
		Confidence json.Number `json:"confidence"`
	}
	jsonDoubt struct {
		Word        string      `json:"word"`
		Probability json.Number `json:"probability,omitempty"`
	}
	jsonPhrase struct {
		Start   json.Number `json:"start"`
		End     json.Number `json:"end"`
		Checked bool        `json:"checked,omitempty"`
	}
	jsonBar struct {
		Number     int         `json:"number"`
		Start      json.Number `json:"start"`
		Chord      string      `json:"chord,omitempty"`
		Confidence json.Number `json:"confidence,omitempty"`
	}
	jsonLayout struct {
		Name string `json:"name"`
		Blow []int  `json:"blow"`
		Draw []int  `json:"draw"`
	}
)

// WriteJSON writes the document as one JSON object, one event a line: the
// header's facts (bpm and meter are null when unknown), "bars", "phrases" and
// "events". Times have three decimals, pitches two. An event that the harp cannot
// play has empty "holes" and the nearest tab in "nearest".
// "doubts" are the words for what is in doubt, each with the probability that it is what
// is wrong, where that was measured; "checked" stands where somebody has found an event,
// or a phrase, right by ear.
// "marks" are words as in the text; "played" says of each how far (cents, each way
// for a vibrato, db), how often (hz) and how long (seconds), where that was measured, and
// how probable it is (confidence). "join" stands where the breath goes on from the event
// before: whether the tongue begins the note anew, how probable that is, the dip between
// the two (dB), for how long the level is 6 dB down (ms), and the air at the start (dB).
// Remarks are left out.
func WriteJSON(w io.Writer, d Document) error {
	if err := d.check(); err != nil {
		return fmt.Errorf("writing JSON: %w", err)
	}
	var bpm any
	if d.BPM > 0 {
		bpm = num(d.BPM, 1)
	}
	events := make([]any, len(d.Events))
	for i, e := range d.Events {
		events[i] = d.jsonEvent(e)
	}
	phrases := make([]any, len(d.Phrases))
	for i, p := range d.Phrases {
		phrases[i] = jsonPhrase{json.Number(seconds(p.Start)), json.Number(seconds(p.End)), p.Checked}
	}
	bars := make([]any, len(d.Bars))
	for i, b := range d.Bars {
		bars[i] = jsonBar{b.Number, json.Number(seconds(b.Start)), b.Chord, measuredNum(b.Confidence, 2)}
	}
	var meter any
	if d.Meter != "" {
		meter = d.Meter
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	lead := "{\n"
	for _, f := range []struct {
		key   string
		value any
	}{
		{"format", fmt.Sprintf("%s %d", versionLine, Version)},
		{"recording", d.Recording},
		{"from", json.Number(seconds(d.From))},
		{"to", json.Number(seconds(d.To))},
		{"harp", d.Harp.Name},
		{"layout", jsonLayout{d.Harp.Layout.Name, d.Harp.Layout.Blow, d.Harp.Layout.Draw}},
		{"song_key", d.SongName()},
		{"position", d.HarpPosition()},
		{"song_assumed", d.SongAssumed},
		{"tuning_cents", num(d.TuningCents, 1)},
		{"bpm", bpm},
		{"meter", meter},
		{"form", d.Form},
		{"channel", d.Channel},
		{"ear", d.Ear},
		{"warnings", append([]string{}, d.Notes...)},
		{"bars", bars},
		{"phrases", phrases},
		{"events", events},
	} {
		fmt.Fprintf(&b, "%s  %q: ", lead, f.key)
		if err := encodeField(&b, enc, f.value); err != nil {
			return fmt.Errorf("writing JSON: %s: %w", f.key, err)
		}
		lead = ",\n"
	}
	b.WriteString("\n}\n")
	if _, err := w.Write(b.Bytes()); err != nil {
		return fmt.Errorf("writing JSON: %w", err)
	}
	return nil
}

// encodeField writes a value on one line, or a list of objects one a line.
func encodeField(b *bytes.Buffer, enc *json.Encoder, value any) error {
	list, ok := value.([]any)
	if !ok {
		err := enc.Encode(value)
		b.Truncate(len(bytes.TrimRight(b.Bytes(), "\n")))
		return err
	}
	b.WriteString("[")
	for i, v := range list {
		if i > 0 {
			b.WriteString(",")
		}
		b.WriteString("\n    ")
		if err := enc.Encode(v); err != nil {
			return err
		}
		b.Truncate(b.Len() - 1) // the encoder's newline
	}
	if len(list) > 0 {
		b.WriteString("\n  ")
	}
	b.WriteString("]")
	return nil
}

func (d Document) jsonEvent(e Event) jsonEvent {
	j := jsonEvent{
		Start: json.Number(seconds(e.Start)), End: json.Number(seconds(e.End)),
		Pitches: []json.Number{}, Texture: e.Texture, Confidence: num(e.Confidence, 3),
		Tab: Token(e.Actions), Notes: []string{}, Degrees: append([]string{}, d.degrees(e)...),
		Interval: d.interval(e), Doubtful: e.Doubtful(), Alternatives: []jsonAlternative{},
		Marks: []string{}, Comment: e.Comment, Place: d.EventPlace(e),
		Chord: d.ChordUnder(e), ChordDegrees: d.ChordDegrees(e), Doubts: []jsonDoubt{}, Checked: e.Checked,
	}
	for _, x := range e.Doubts {
		j.Doubts = append(j.Doubts, jsonDoubt{x.Word, measuredNum(x.Probability, 3)})
	}
	if j.Texture == "" {
		j.Texture = Texture(e.Actions)
	}
	j.Breath, j.Holes, j.Bends = jsonActions(e.Actions)
	for _, p := range e.Pitches {
		j.Pitches = append(j.Pitches, num(p, 2))
	}
	for _, m := range d.Sounding(e) {
		j.Notes = append(j.Notes, d.Harp.NoteName(m, d.SongKey))
	}
	others := d.Others(e)
	for _, a := range others {
		alt := jsonAlternative{Tab: Token(a.Actions), Confidence: num(a.Confidence, 3)}
		if a.For > 0 {
			alt.For = d.Harp.NoteName(a.For, d.SongKey)
		}
		alt.Breath, alt.Holes, alt.Bends = jsonActions(a.Actions)
		j.Alternatives = append(j.Alternatives, alt)
	}
	for _, m := range e.Marks {
		j.Marks = append(j.Marks, m.Name)
		p := played{
			measuredNum(m.Cents, 0), measuredNum(m.DB, 1), measuredNum(m.Hz, 2),
			measuredNum(m.Seconds, 2), measuredNum(m.Confidence, 2),
		}
		if p != (played{}) {
			if j.Played == nil {
				j.Played = map[string]played{}
			}
			j.Played[m.Name] = p
		}
	}
	j.LoudnessDB = measuredNum(e.Loudness, 1)
	if x := e.Join; x != (Join{}) {
		j.Join = &jsonJoin{
			cmp.Or(x.How(), "unsure"), num(x.Tongued, 2), num(x.DipDB, 1), num(x.GapMS, 0), num(x.AirDB, 1),
		}
	}
	if len(e.Actions) == 0 && len(others) > 0 {
		j.Nearest = Token(others[0].Actions)
	}
	return j
}

func jsonActions(a []harp.Action) (breath *string, holes, bends []int) {
	holes, bends = []int{}, []int{}
	for _, x := range a {
		holes, bends = append(holes, x.Hole), append(bends, x.Bend)
	}
	if len(a) > 0 {
		s := a[0].Breath.String()
		breath = &s
	}
	return breath, holes, bends
}

// measuredNum is a JSON number, empty for 0: not measured.
func measuredNum(v float64, decimals int) json.Number {
	if v == 0 {
		return ""
	}
	return num(v, decimals)
}

// num is a JSON number with that many decimals.
func num(v float64, decimals int) json.Number { return json.Number(fixed(v, decimals)) }
