// Package musicxml writes a tab as a MusicXML 4.0 score and reads a score as a melody
// (W3C Music Notation Community Group, "MusicXML 4.0", Final Community Group Report,
// 2021).
//
// Notes stand at the pitch that sounds, in the song's key, with the tab as lyrics.
// Reeds played together are a chord. A bend is the standard's bend element: so many
// semitones below the reed's own note, bent before it sounds. A bend that goes on
// from another note of the same reed is a slide. A phrase is a slur with a breath
// mark at its end. Chords stand above the bars where the tab has them. How a note is
// played stands by it, in the standard's own elements where it has them.
package musicxml

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"blowdraw/tabber/formats"
	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/render"
	"blowdraw/tabber/tab"
	"blowdraw/tabber/tab/grid"
)

const harmonica = 23 // General MIDI program, counted from 1

// Write writes a tab as a score.
func Write(w io.Writer, d tab.Document) error {
	if len(d.Events) == 0 {
		return fmt.Errorf("writing MusicXML: nothing is played")
	}
	g := grid.Of(d)
	s := &scorer{d: d, grid: g, fifths: formats.Fifths(d)}
	s.markPhrases()
	score := scorePartwise{Version: "4.0", Title: printable(formats.Title(d)), Software: "blowdraw",
		Part: part(d)}
	score.Miscellaneous = []miscellany{{"harp", d.Harp.Name}, {"layout", printable(d.Harp.Layout.Name)}}
	score.Measures.ID = "P1"
	bars := g.Bars(g.Spans(d))
	for i, b := range bars {
		m := measure{Number: b.Number, Notes: append(s.chords(b.Number), s.bar(b)...)}
		if i == 0 {
			s.open(&m)
		}
		if i == len(bars)-1 {
			m.Barline = &barline{"right", "light-heavy"}
		}
		score.Measures.List = append(score.Measures.List, m)
	}
	if _, err := io.WriteString(w, xml.Header); err != nil {
		return fmt.Errorf("writing MusicXML: %w", err)
	}
	e := xml.NewEncoder(w)
	e.Indent("", "  ")
	if err := e.Encode(score); err != nil {
		return fmt.Errorf("writing MusicXML: %w", err)
	}
	if _, err := io.WriteString(w, "\n"); err != nil {
		return fmt.Errorf("writing MusicXML: %w", err)
	}
	return nil
}

// printable leaves out what XML cannot hold.
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == 0xfffe || r == 0xffff {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
}

func part(d tab.Document) scorePart {
	p := scorePart{ID: "P1", Name: d.Harp.Name + " harp"}
	p.Instrument.ID, p.Instrument.Name, p.Instrument.Sound = "P1-I1", "Harmonica", "wind.reed.harmonica"
	p.MIDI.ID, p.MIDI.Channel, p.MIDI.Program = "P1-I1", 1, harmonica
	return p
}

// scorer writes the notes of a tab.
type scorer struct {
	d      tab.Document
	grid   grid.Grid
	fifths int
	begins map[int]bool // events that begin a phrase of several
	ends   map[int]bool
	last   map[int]bool // events that end any phrase
	alters map[string]int
}

func (s *scorer) markPhrases() {
	s.begins, s.ends, s.last = map[int]bool{}, map[int]bool{}, map[int]bool{}
	for _, p := range phrasing.Groups(s.d) {
		first, last := p[0], p[len(p)-1]
		s.last[last] = true
		if s.d.Events[last].Start > s.d.Events[first].Start {
			s.begins[first], s.ends[last] = true, true
		}
	}
}

// open writes key, meter, clef, tempo and harp into the first measure.
func (s *scorer) open(m *measure) {
	mode := "major"
	if s.d.Minor {
		mode = "minor"
	}
	m.Attributes = &attributes{
		Divisions: grid.Unit, Fifths: s.fifths, Mode: mode,
		Beats: s.grid.PerBar, BeatType: 4, Clef: "G", Line: 2,
	}
	beat, quarters := metronome{Unit: "quarter"}, s.d.BPM
	if s.grid.Compound { // a beat is a dotted quarter
		m.Attributes.Divisions, m.Attributes.Beats, m.Attributes.BeatType = grid.Unit*2/3, 3*s.grid.PerBar, 8
		beat.Dot, quarters = &empty{}, 1.5*quarters
	}
	position := s.d.HarpPosition()
	words := fmt.Sprintf("%s harp, position %d", s.d.Harp.Name, position)
	m.Directions = append(m.Directions, direction{Placement: "above", Type: directionType{Words: words}})
	if s.d.BPM > 0 {
		number := func(v float64) string { return strconv.FormatFloat(math.Round(100*v)/100, 'f', -1, 64) }
		beat.PerMinute = number(s.d.BPM)
		m.Directions = append(m.Directions, direction{
			Placement: "above", Type: directionType{Metronome: &beat}, Sound: &sound{number(quarters)},
		})
	}
}

// chords are the chord symbols of a bar.
func (s *scorer) chords(number int) []any {
	i := slices.IndexFunc(s.d.Bars, func(b tab.Bar) bool { return b.Number == number })
	if i < 0 {
		return nil
	}
	words := strings.Fields(s.d.Bars[i].Chord)
	var out []any
	for k, w := range words {
		root, ok := tab.ChordRoot(w)
		if !ok {
			continue
		}
		p := s.pitch(60 + (s.d.SongKey+root)%12)
		out = append(out, &harmony{
			Step: p.Step, Alter: p.Alter, Kind: chordKind(w),
			Offset: k * s.grid.PerBar * grid.Unit / len(words),
		})
	}
	return out
}

// chordKind is what a chord such as I, iv or V7 is called in the standard.
func chordKind(chord string) string {
	minor := strings.ContainsAny(chord, "iv")
	switch {
	case strings.HasSuffix(chord, "7") && minor:
		return "minor-seventh"
	case strings.HasSuffix(chord, "7"):
		return "dominant"
	case minor:
		return "minor"
	}
	return "major"
}

// bar writes the pieces of a bar.
func (s *scorer) bar(b grid.Bar) []any {
	s.alters = map[string]int{}
	beams := beamsOf(b.Pieces)
	var out []any
	for i, p := range b.Pieces {
		notes := s.piece(p)
		notes[0].Beams = beams[i]
		for _, n := range notes {
			out = append(out, n)
		}
	}
	return out
}

var kinds = [...]string{"whole", "half", "quarter", "eighth", "16th", "32nd", "64th"}

// piece writes a rest, or a note for each reed that sounds.
func (s *scorer) piece(p grid.Piece) []*note {
	shape := func() *note {
		n := &note{Duration: p.Length, Voice: 1, Type: kinds[p.Kind]}
		if p.Dotted {
			n.Dot = &empty{}
		}
		if p.Triplet {
			n.TimeMod = &timeMod{3, 2}
		}
		return n
	}
	var notes []*note
	for _, i := range p.Events {
		e := s.d.Events[i]
		for k, midi := range s.d.Sounding(e) {
			n := shape()
			n.Pitch = s.pitch(midi)
			n.Accidental = s.accidental(n.Pitch, p.TiedFrom)
			n.Notations = s.ties(n, p)
			if !p.TiedFrom && k < len(e.Actions) && e.Actions[k].Bend > 0 {
				n.Notations.Technical = &technical{Bend: &bend{Alter: -e.Actions[k].Bend}}
			}
			if len(notes) > 0 {
				n.Chord = &empty{}
			}
			notes = append(notes, n)
		}
	}
	if len(notes) == 0 {
		n := shape()
		n.Rest, n.Notations = &empty{}, &notations{}
		notes = []*note{n}
	}
	s.whole(notes[0], p)
	if p.Starts {
		notes[0].Notations.Tuplet = append(notes[0].Notations.Tuplet, typed{"start", 1})
	}
	if p.Stops {
		notes[0].Notations.Tuplet = append(notes[0].Notations.Tuplet, typed{"stop", 1})
	}
	for _, n := range notes {
		if n.Notations.bare() {
			n.Notations = nil
		}
	}
	return notes
}

// bare reports whether nothing stands in it.
func (n *notations) bare() bool {
	return len(n.Tied)+len(n.Slur)+len(n.Tuplet)+len(n.Slide) == 0 && n.Ornaments == nil &&
		n.Technical == nil && n.Articulations == nil
}

// pitch of a MIDI number as the tab spells it.
func (s *scorer) pitch(midi int) *notePitch {
	name := s.d.Harp.NoteName(min(max(midi, 12), 127), s.d.SongKey)
	letters := strings.TrimRight(name, "0123456789")
	octave, _ := strconv.Atoi(name[len(letters):])
	return &notePitch{letters[:1], strings.Count(letters, "#") - strings.Count(letters, "b"), octave}
}

var accidentals = map[int]string{-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}

// accidental is the sign before a note, empty if key and bar so far imply it.
func (s *scorer) accidental(p *notePitch, tied bool) string {
	place := fmt.Sprint(p.Step, p.Octave)
	now, ok := s.alters[place]
	if !ok {
		now = signature(s.fifths, p.Step)
	}
	if now == p.Alter || tied {
		return ""
	}
	s.alters[place] = p.Alter
	return accidentals[p.Alter]
}

// signature is how a key signature alters a step: sharps come in the order F C G D
// A E B, flats the other way round.
func signature(fifths int, step string) int {
	at := strings.Index("FCGDAEB", step)
	switch {
	case at < fifths:
		return 1
	case 6-at < -fifths:
		return -1
	}
	return 0
}

func (s *scorer) ties(n *note, p grid.Piece) *notations {
	var out notations
	if p.TiedFrom {
		n.Ties = append(n.Ties, typed{Type: "stop"})
		out.Tied = append(out.Tied, typed{Type: "stop"})
	}
	if p.TieTo {
		n.Ties = append(n.Ties, typed{Type: "start"})
		out.Tied = append(out.Tied, typed{Type: "start"})
	}
	return &out
}

// whole writes what belongs to the event as a whole: its tab, slides, the slur of its
// phrase and the breath after it.
func (s *scorer) whole(n *note, p grid.Piece) {
	if len(p.Events) == 0 {
		return
	}
	var labels []string
	begins, ends, last := false, false, false
	for _, i := range p.Events {
		labels = append(labels, formats.Label(s.d, s.d.Events[i]))
		begins, ends, last = begins || s.begins[i], ends || s.ends[i], last || s.last[i]
	}
	first, final := p.Events[0], p.Events[len(p.Events)-1]
	if !p.TiedFrom {
		n.Lyric = &lyric{"single", strings.Join(labels, " ")}
		n.Notations.mark(s.d.Events[first].Marks)
		if begins {
			n.Notations.Slur = append(n.Notations.Slur, typed{"start", 1})
		}
		if s.slides(first - 1) {
			n.Notations.Slide = append(n.Notations.Slide, typed{"stop", 1})
		}
	}
	if p.TieTo {
		return
	}
	if s.slides(final) {
		n.Notations.Slide = append(n.Notations.Slide, typed{"start", 1})
	}
	if ends {
		n.Notations.Slur = append(n.Notations.Slur, typed{"stop", 1})
	}
	if last {
		n.Notations.articulations().BreathMark = &empty{}
	}
}

func (n *notations) articulations() *articulations {
	if n.Articulations == nil {
		n.Articulations = &articulations{}
	}
	return n.Articulations
}

// mark writes how an event is played: by the standard's own elements, where it has
// none in words. What slides between notes is written as slides.
func (n *notations) mark(marks []tab.Mark) {
	for _, m := range marks {
		switch m.Name {
		case tab.Scoop:
			n.articulations().Scoop = &empty{}
		case tab.Fall:
			n.articulations().Falloff = &empty{}
		case tab.Accent:
			n.articulations().Accent = &empty{}
		case tab.Vibrato:
			n.ornaments().WavyLine = []typed{{"start", 1}, {"stop", 1}}
		case tab.Shake:
			n.ornaments().Shake = &empty{}
		case tab.Release, tab.Glide:
		default:
			if n.Technical == nil {
				n.Technical = &technical{}
			}
			n.Technical.Other = append(n.Technical.Other, m.String())
		}
	}
}

func (n *notations) ornaments() *ornaments {
	if n.Ornaments == nil {
		n.Ornaments = &ornaments{}
	}
	return n.Ornaments
}

// slides reports whether an event slides on into the next: one note of the same
// reed in the same breath, bent otherwise.
func (s *scorer) slides(i int) bool {
	if i < 0 || i+1 >= len(s.d.Events) {
		return false
	}
	a, b := s.d.Events[i], s.d.Events[i+1]
	return len(a.Actions) == 1 && len(b.Actions) == 1 &&
		b.Start > a.Start && b.Start-a.End <= render.OneBreath &&
		a.Actions[0].Hole == b.Actions[0].Hole && a.Actions[0].Breath == b.Actions[0].Breath &&
		a.Actions[0].Bend != b.Actions[0].Bend
}

// beamsOf are the beams between the short notes of each beat.
func beamsOf(pieces []grid.Piece) [][]beam {
	out := make([][]beam, len(pieces))
	flags := make([]int, len(pieces)) // 0 for rests and long notes
	beat := make([]int, len(pieces))
	at := 0
	for i, p := range pieces {
		if len(p.Events) > 0 {
			flags[i] = max(0, int(p.Kind-grid.Quarter))
		}
		beat[i] = at / grid.Unit
		at += p.Length
	}
	beamed := func(i, j, level int) bool {
		return j >= 0 && j < len(pieces) && beat[i] == beat[j] && flags[j] >= level
	}
	for i := range pieces {
		for level := 1; level <= flags[i]; level++ {
			before, after := beamed(i, i-1, level), beamed(i, i+1, level)
			text := ""
			switch {
			case before && after:
				text = "continue"
			case before:
				text = "end"
			case after:
				text = "begin"
			case level > 1 && beamed(i, i-1, 1):
				text = "backward hook"
			case level > 1 && beamed(i, i+1, 1):
				text = "forward hook"
			}
			if text != "" {
				out[i] = append(out[i], beam{level, text})
			}
		}
	}
	return out
}
