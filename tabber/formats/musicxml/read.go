package musicxml

import (
	"archive/zip"
	"bytes"
	"cmp"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"blowdraw/tabber/formats/melody"
	"blowdraw/tabber/tab"
)

// mostBytes is the largest score that is read, unpacked.
const mostBytes = 64 << 20

// Read reads a score, by parts (score-partwise), plain or packed (.mxl), as a melody:
// each part as it sounds, straight through, without repeats. Grace notes and cues
// are left out, tied notes are one. Without a tempo a beat is half a second.
func Read(r io.Reader) (melody.Melody, error) {
	m := melody.Melody{Key: -1}
	b, err := io.ReadAll(io.LimitReader(r, mostBytes+1))
	if err == nil && len(b) > mostBytes {
		err = fmt.Errorf("it is longer than %d MiB", mostBytes>>20)
	}
	if err == nil && bytes.HasPrefix(b, []byte("PK\x03\x04")) {
		b, err = unpack(b)
	}
	var root element
	if err == nil {
		d := xml.NewDecoder(bytes.NewReader(b))
		d.CharsetReader = latin1
		err = d.Decode(&root)
	}
	switch {
	case err != nil:
		return m, fmt.Errorf("reading MusicXML: %w", err)
	case root.XMLName.Local == "score-timewise":
		return m, errors.New("reading MusicXML: it is written by measures (score-timewise); save it by parts")
	case root.XMLName.Local != "score-partwise":
		return m, fmt.Errorf("reading MusicXML: it is no score but %q", root.XMLName.Local)
	}
	names := map[string]string{}
	for _, p := range root.child("part-list").all("score-part") {
		names[p.attr("id")] = strings.TrimSpace(p.child("part-name").Text)
	}
	c := tempoCurve{}
	for _, p := range root.all("part") { // the tempo may stand in any part
		reader := reader{melody: &m, tempo: &c}
		reader.part(p, true)
	}
	for i, p := range root.all("part") {
		reader := reader{melody: &m, tempo: &c}
		if i == 0 {
			reader.bars(p)
		}
		if notes := reader.part(p, false); len(notes) > 0 {
			slices.SortStableFunc(notes, func(a, b melody.Note) int { return cmp.Compare(a.Start, b.Start) })
			m.Parts = append(m.Parts, melody.Part{Name: names[p.attr("id")], Notes: notes})
		}
	}
	return m, nil
}

// latin1 reads the one other encoding that old scores are written in.
func latin1(charset string, in io.Reader) (io.Reader, error) {
	if !strings.EqualFold(charset, "iso-8859-1") {
		return nil, fmt.Errorf("it is written in %q; save it as UTF-8", charset)
	}
	b, err := io.ReadAll(in)
	if err != nil {
		return nil, err
	}
	var out strings.Builder
	for _, c := range b {
		out.WriteRune(rune(c))
	}
	return strings.NewReader(out.String()), nil
}

// unpack returns the score in a packed file: the first root file that its container
// names.
func unpack(b []byte) ([]byte, error) {
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		return nil, err
	}
	content := func(name string) ([]byte, error) {
		f, err := z.Open(name)
		if err != nil {
			return nil, err
		}
		defer f.Close()
		b, err := io.ReadAll(io.LimitReader(f, mostBytes+1))
		if err == nil && len(b) > mostBytes {
			err = fmt.Errorf("%s is longer than %d MiB", name, mostBytes>>20)
		}
		return b, err
	}
	container, err := content("META-INF/container.xml")
	if err != nil {
		return nil, err
	}
	var root element
	if err := xml.Unmarshal(container, &root); err != nil {
		return nil, err
	}
	files := root.child("rootfiles").all("rootfile")
	if len(files) == 0 {
		return nil, errors.New("its container names no score")
	}
	return content(files[0].attr("full-path"))
}

// element is any element with what it holds, in order.
type element struct {
	XMLName  xml.Name
	Attrs    []xml.Attr `xml:",any,attr"`
	Text     string     `xml:",chardata"`
	Children []element  `xml:",any"`
}

func (e element) attr(name string) string {
	for _, a := range e.Attrs {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// child is the first child of that name, or an empty element.
func (e element) child(name string) element {
	for _, c := range e.Children {
		if c.XMLName.Local == name {
			return c
		}
	}
	return element{}
}

func (e element) all(name string) []element {
	var out []element
	for _, c := range e.Children {
		if c.XMLName.Local == name {
			out = append(out, c)
		}
	}
	return out
}

func (e element) has(name string) bool { return e.child(name).XMLName.Local != "" }

// number is the element's text as a number, or other if it is none.
func (e element) number(other float64) float64 {
	v, err := strconv.ParseFloat(strings.TrimSpace(e.Text), 64)
	if err != nil || math.IsNaN(v) || math.Abs(v) > 1e6 {
		return other
	}
	return v
}

// tempoCurve turns quarters into seconds.
type tempoCurve struct{ at, bpm []float64 } // quarters, ascending

func (c *tempoCurve) add(at, bpm float64) {
	n := len(c.at)
	if bpm < 5 || bpm > 1000 || n > 0 && at < c.at[n-1] {
		return
	}
	c.at, c.bpm = append(c.at, at), append(c.bpm, bpm)
}

func (c *tempoCurve) seconds(at float64) float64 {
	s, from, bpm := 0.0, 0.0, 120.0
	for i, change := range c.at {
		if change >= at {
			break
		}
		s += (change - from) * 60 / bpm
		from, bpm = change, c.bpm[i]
	}
	return s + (at-from)*60/bpm
}

// reader goes through a part. Positions are in quarters.
type reader struct {
	melody    *melody.Melody
	tempo     *tempoCurve
	divisions float64
	transpose float64
	compound  bool    // a beat is three eighths
	at        float64 // where the next note begins
	last      float64 // where the last note that is no chord note began
	notes     []melody.Note
	open      map[float64]int // pitch to the note that a tie goes on from
}

// part reads the notes of a part or, with tempoOnly, tempo and key.
func (r *reader) part(p element, tempoOnly bool) []melody.Note {
	r.divisions, r.open = 1, map[float64]int{}
	for _, m := range p.all("measure") {
		start, end := r.at, r.at
		for _, e := range m.Children {
			switch e.XMLName.Local {
			case "attributes":
				r.attributes(e)
			case "direction":
				if tempoOnly {
					r.direction(e)
				}
			case "sound":
				if tempoOnly {
					r.sound(e)
				}
			case "backup":
				r.at = max(start, r.at-e.child("duration").number(0)/r.divisions)
			case "forward":
				r.at += e.child("duration").number(0) / r.divisions
			case "note":
				r.note(e, tempoOnly)
			}
			end = max(end, r.at)
		}
		r.at = end
	}
	return r.notes
}

// bars tells where the bars of a part begin, if all have one meter that a tab can
// have. What comes before the first whole bar belongs to none.
func (r *reader) bars(p element) {
	m := r.melody
	whole := 0.0 // quarters in a bar
	at, divisions := 0.0, 1.0
	for _, bar := range p.all("measure") {
		if d := bar.child("attributes").child("divisions").number(0); d > 0 {
			divisions = d
		}
		if t := bar.child("attributes").child("time"); t.has("beats") {
			beats, kind := strings.TrimSpace(t.child("beats").Text),
				strings.TrimSpace(t.child("beat-type").Text)
			if _, ok := tab.Meters[beats+"/"+kind]; !ok || m.Meter != "" && m.Meter != beats+"/"+kind {
				m.Meter, m.Bars = "", nil
				return
			}
			m.Meter = beats + "/" + kind
			whole = 4 * t.child("beats").number(4) / t.child("beat-type").number(4)
		}
		length := barLength(bar, divisions)
		if number, err := strconv.Atoi(bar.attr("number")); len(m.Bars) == 0 {
			m.FirstBar = 1
			if err == nil && number >= 0 && number <= mostNumber {
				m.FirstBar = number
			}
		}
		if whole > 0 && (len(m.Bars) > 0 || length > whole-0.01) {
			m.Bars = append(m.Bars, r.tempo.seconds(at))
		}
		at += length
	}
}

// mostNumber is the highest number that the first bar can have.
const mostNumber = 9999

// barLength is how many quarters a bar lasts.
func barLength(bar element, divisions float64) float64 {
	at, longest := 0.0, 0.0
	for _, e := range bar.Children {
		length := e.child("duration").number(0) / divisions
		switch e.XMLName.Local {
		case "backup":
			at -= length
		case "forward":
			at += length
		case "note":
			if !e.has("chord") && !e.has("grace") {
				at += length
			}
		}
		longest = max(longest, at)
	}
	return longest
}

func (r *reader) attributes(e element) {
	if d := e.child("divisions").number(0); d > 0 {
		r.divisions = d
	}
	if e.has("transpose") {
		t := e.child("transpose")
		r.transpose = t.child("chromatic").number(0) + 12*t.child("octave-change").number(0)
	}
	if t := e.child("time"); t.has("beats") {
		beats := int(t.child("beats").number(4))
		r.compound = t.child("beat-type").number(4) == 8 && beats > 3 && beats%3 == 0
	}
	if key := e.child("key"); r.melody.Key < 0 && key.has("fifths") {
		tonic := 7 * int(key.child("fifths").number(0))
		if strings.TrimSpace(key.child("mode").Text) == "minor" {
			tonic += 9
			r.melody.Minor = true
		}
		r.melody.Key = (((tonic + int(r.transpose)) % 12) + 12) % 12
	}
}

// direction reads a metronome mark, unless a sound element tells the tempo too.
func (r *reader) direction(e element) {
	if e.has("sound") && e.child("sound").attr("tempo") != "" {
		r.sound(e.child("sound"))
		return
	}
	units := map[string]float64{"whole": 4, "half": 2, "quarter": 1, "eighth": 0.5, "16th": 0.25}
	for _, t := range e.all("direction-type") {
		m := t.child("metronome")
		unit := units[strings.TrimSpace(m.child("beat-unit").Text)]
		if m.has("beat-unit-dot") {
			unit *= 1.5
		}
		r.setTempo(unit * m.child("per-minute").number(0))
	}
}

func (r *reader) sound(e element) {
	if bpm, err := strconv.ParseFloat(e.attr("tempo"), 64); err == nil {
		r.setTempo(bpm)
	}
}

func (r *reader) setTempo(bpm float64) {
	r.tempo.add(r.at, bpm)
	if r.melody.BPM == 0 && len(r.tempo.bpm) > 0 {
		r.melody.BPM = r.tempo.bpm[0]
		if r.compound {
			r.melody.BPM /= 1.5
		}
	}
}

func (r *reader) note(e element, tempoOnly bool) {
	if e.has("grace") {
		return
	}
	length := e.child("duration").number(0) / r.divisions
	if !e.has("chord") {
		r.last = r.at
		r.at += length
	}
	if tempoOnly || e.has("rest") || e.has("cue") || !e.has("pitch") {
		return
	}
	pitch := min(max(midiOf(e.child("pitch"))+r.transpose, 0), 127) // as far as MIDI numbers go
	stops, starts := false, false
	for _, t := range e.all("tie") {
		stops, starts = stops || t.attr("type") == "stop", starts || t.attr("type") == "start"
	}
	start, end := r.tempo.seconds(r.last), r.tempo.seconds(r.last+length)
	i, tied := r.open[pitch]
	if stops && tied {
		r.notes[i].End = end
	} else {
		i = len(r.notes)
		text := strings.TrimSpace(e.child("lyric").child("text").Text)
		r.notes = append(r.notes, melody.Note{Start: start, End: end, Pitch: pitch, Text: text})
	}
	delete(r.open, pitch)
	if starts {
		r.open[pitch] = i
	}
}

// midiOf a pitch element.
func midiOf(p element) float64 {
	step := strings.Index("C D EF G A B", strings.TrimSpace(p.child("step").Text))
	return float64(max(step, 0)) + p.child("alter").number(0) + 12*(p.child("octave").number(4)+1)
}
