// Package midi writes a tab as a Standard MIDI File and reads one as a melody
// (MIDI 1.0 Detailed Specification and Standard MIDI Files 1.0, MIDI Association).
//
// What is written: format 1, 960 ticks a quarter. The first track has the tempo, the
// meter, the key and a marker for each phrase; the second has the notes, General
// MIDI program 23 (harmonica), with the tab as lyrics. The note is the reed's own;
// what the player bends is pitch bend of a range of 12 semitones, which the file
// sets. Scoops, falls, dips and vibrato move it. Notes that sound together lie on
// channels of their own, so that each can be bent alone. Time 0 is the start of the
// tab's section.
package midi

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"

	"blowdraw/tabber/formats"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/render"
	"blowdraw/tabber/tab"
	"blowdraw/tabber/tab/grid"

	"gitlab.com/gomidi/midi/v2"
	"gitlab.com/gomidi/midi/v2/smf"
)

const (
	ticks     = 960 // in a quarter
	harmonica = 22  // General MIDI program 23, counted from 0
	bendRange = 12  // semitones
	fullBend  = 8192
	velocity  = 90
)

// timed is a message at a tick. Of those at one tick what ends a note comes before
// what begins one.
type timed struct {
	tick  int64
	order int
	msg   []byte
}

const (
	ends = iota
	prepares
	begins
)

// Write writes a tab as a MIDI file.
func Write(w io.Writer, d tab.Document) error {
	m := newTempoMap(d)
	s := smf.NewSMF1()
	s.TimeFormat = smf.MetricTicks(ticks)
	for _, t := range []smf.Track{track(m.conductor(d)), track(m.notes(d))} {
		if err := s.Add(t); err != nil {
			return fmt.Errorf("writing MIDI: %w", err)
		}
	}
	if _, err := s.WriteTo(w); err != nil {
		return fmt.Errorf("writing MIDI: %w", err)
	}
	return nil
}

// track puts messages in order.
func track(all []timed) smf.Track {
	slices.SortStableFunc(all, func(a, b timed) int {
		return cmp.Or(cmp.Compare(a.tick, b.tick), cmp.Compare(a.order, b.order))
	})
	var t smf.Track
	at := int64(0)
	for _, m := range all {
		t.Add(uint32(m.tick-at), m.msg)
		at = m.tick
	}
	t.Close(0)
	return t
}

// tempoMap places seconds on ticks. lead is how many beats there are from the
// start of the section to beat 0 of the grid; they take as long as the music does
// to begin, so that beats lie on whole beats of the file.
type tempoMap struct {
	grid    grid.Grid
	from    float64
	lead    int
	perBeat int64 // ticks
}

func newTempoMap(d tab.Document) tempoMap {
	m := tempoMap{grid: grid.Of(d), from: d.From, perBeat: ticks}
	if m.grid.Compound {
		m.perBeat = ticks * 3 / 2
	}
	if d.To <= d.From && len(d.Events) > 0 {
		m.from = 0
	}
	m.grid.Beats = beatsFrom(m.grid, m.from)
	if before := m.grid.Beats[0] - m.from; before > 0 {
		beat := m.grid.Beats[1] - m.grid.Beats[0]
		m.lead = max(1, int(math.Round(before/beat)))
	}
	return m
}

// beatsFrom are the beats from the first bar line on that lies at a time or after it.
func beatsFrom(g grid.Grid, seconds float64) []float64 {
	bars := 0
	for g.Time(float64(bars*g.PerBar)) < seconds {
		bars++
	}
	first := bars * g.PerBar
	out := []float64{g.Time(float64(first)), g.Time(float64(first + 1))}
	if first+2 <= len(g.Beats) {
		out = g.Beats[first:]
	}
	return out
}

// tick of a time in seconds.
func (m tempoMap) tick(seconds float64) int64 {
	at := m.grid.At(seconds) + float64(m.lead)
	if before := m.grid.Beats[0] - m.from; seconds < m.grid.Beats[0] && before > 0 {
		at = float64(m.lead) * (seconds - m.from) / before
	}
	return max(0, int64(math.Round(at*float64(m.perBeat))))
}

// conductor is the track of tempo, meter, key and phrases.
func (m tempoMap) conductor(d tab.Document) []timed {
	out := []timed{{0, ends, smf.MetaTrackSequenceName(formats.Title(d))}}
	fifths := formats.Fifths(d)
	key := smf.MetaKey(uint8(d.SongKey), !d.Minor, uint8(max(fifths, -fifths)), fifths < 0)
	out = append(out, timed{0, ends, key})
	if before := m.grid.Beats[0] - m.from; m.lead > 0 {
		out = append(out, timed{0, ends, m.tempo(before / float64(m.lead))}, timed{0, ends, m.meter(m.lead)})
	}
	start := int64(m.lead) * m.perBeat
	out = append(out, timed{start, ends, m.meter(m.grid.PerBar)})
	last := 0.0
	for i := 1; i < len(m.grid.Beats); i++ {
		beat := m.grid.Beats[i] - m.grid.Beats[i-1]
		if math.Abs(beat-last) > 1e-9 {
			out = append(out, timed{start + int64(i-1)*m.perBeat, ends, m.tempo(beat)})
		}
		last = beat
	}
	for n, phrase := range phrasing.Groups(d) {
		marker := smf.MetaMarker(fmt.Sprintf("Phrase %d", n+1))
		out = append(out, timed{m.tick(d.Events[phrase[0]].Start), begins, marker})
	}
	return out
}

// tempo says that a beat takes so many seconds.
func (m tempoMap) tempo(beat float64) smf.Message {
	return smf.MetaTempo(60 / beat * float64(m.perBeat) / ticks)
}

// meter of a bar of so many beats.
func (m tempoMap) meter(beats int) smf.Message {
	if m.grid.Compound {
		return smf.MetaTimeSig(uint8(min(3*beats, 255)), 8, 36, 8)
	}
	return smf.MetaTimeSig(uint8(min(beats, 255)), 4, 24, 8)
}

// notes is the track of what is played.
func (m tempoMap) notes(d tab.Document) []timed {
	out := []timed{{0, ends, smf.MetaTrackSequenceName(d.Harp.Name + " harp")}}
	voice, used := 0, 0
	for i, e := range d.Events {
		if i == 0 || e.Start > d.Events[i-1].Start {
			voice = 0
		}
		on := m.tick(e.Start)
		out = append(out, timed{on, begins, smf.MetaLyric(formats.Label(d, e))})
		off := max(on+1, m.tick(min(e.End, nextStart(d.Events, i))))
		shape := render.Shape(e)
		for _, s := range sounds(d, e) {
			out = append(out, s.messages(channel(voice), on, off, loudness(shape.Level))...)
			out = append(out, m.curve(channel(voice), s.bend, e, shape, off)...)
			voice++
			used = max(used, voice)
		}
	}
	for v := range used {
		out = append(out, setUp(channel(v))...)
	}
	return out
}

// nextStart is when the next event starts that does not start with event i.
func nextStart(events []tab.Event, i int) float64 {
	for _, e := range events[i+1:] {
		if e.Start > events[i].Start {
			return e.Start
		}
	}
	return math.Inf(1)
}

// channel of a voice: all but the tenth, which is for drums.
func channel(voice int) uint8 {
	c := voice % 15
	if c >= 9 {
		c++
	}
	return uint8(c)
}

// setUp chooses the instrument and the range of the pitch bend (registered
// parameter 0).
func setUp(ch uint8) []timed {
	var out []timed
	for _, m := range []midi.Message{
		midi.ProgramChange(ch, harmonica),
		midi.ControlChange(ch, 101, 0), midi.ControlChange(ch, 100, 0),
		midi.ControlChange(ch, 6, bendRange), midi.ControlChange(ch, 38, 0),
		midi.ControlChange(ch, 101, 127), midi.ControlChange(ch, 100, 127),
	} {
		out = append(out, timed{0, ends, m})
	}
	return out
}

// sound is one reed: the note it is made for, and the semitones that it is bent up.
type sound struct {
	key  int
	bend float64
}

// sounds of an event. A sound that the harp cannot play is its nearest note, bent.
func sounds(d tab.Document, e tab.Event) []sound {
	var out []sound
	for _, a := range e.Actions {
		natural := harp.Action{Breath: a.Breath, Hole: a.Hole}
		out = append(out, sound{d.Harp.MIDI(natural), float64(-a.Bend)})
	}
	if len(e.Actions) == 0 {
		for _, p := range e.Pitches {
			p -= d.TuningCents / 100
			key := min(max(math.Round(p), 0), 127)
			out = append(out, sound{int(key), min(max(p-key, -bendRange), bendRange)})
		}
	}
	return out
}

func (s sound) messages(ch uint8, on, off int64, loud uint8) []timed {
	return []timed{
		{on, prepares, midi.Pitchbend(ch, wheel(s.bend))},
		{on, begins, midi.NoteOn(ch, uint8(s.key), loud)},
		{off, ends, midi.NoteOff(ch, uint8(s.key))},
	}
}

// wheel is the pitch bend of so many semitones.
func wheel(semitones float64) int16 {
	return int16(min(max(math.Round(semitones/bendRange*fullBend), -fullBend), fullBend-1))
}

// loudness is the velocity of a level in dB; synthesizers make about 40 dB of the
// velocities (common practice, no source).
func loudness(db float64) uint8 {
	return uint8(min(max(math.Round(velocity*math.Pow(10, db/40)), 1), 127))
}

// curveStep is the time in seconds between two values of a bend that moves.
const curveStep = 0.01

// curve moves the bend as the marks of an event say.
func (m tempoMap) curve(ch uint8, bend float64, e tab.Event, g render.Gesture, off int64) []timed {
	var out []timed
	now := wheel(bend)
	for at := 0.0; m.tick(e.Start+at) < off; at += curveStep {
		if next := wheel(bend + g.CentsAt(at)/100); next != now {
			out = append(out, timed{m.tick(e.Start + at), prepares, midi.Pitchbend(ch, next)})
			now = next
		}
	}
	return out
}
