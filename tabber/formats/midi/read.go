package midi

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strings"

	"blowdraw/tabber/formats/melody"
	"blowdraw/tabber/tab"

	"gitlab.com/gomidi/midi/v2/smf"
)

// mostBytes is the largest file that is read.
const mostBytes = 16 << 20

// mostSeconds is the longest music that is read.
const mostSeconds = 100 * 3600

// Read reads a MIDI file as a melody: each track that has notes is a part, in a
// file of format 0 each channel. Drums (channel 10) are left out. A note is as high
// as the median of its pitch bend over its time makes it.
func Read(r io.Reader) (m melody.Melody, err error) {
	defer func() {
		if p := recover(); p != nil { // the library, on a damaged file
			err = fmt.Errorf("reading MIDI: it is damaged: %v", p)
		}
	}()
	b, err := io.ReadAll(io.LimitReader(r, mostBytes+1))
	if err != nil {
		return m, fmt.Errorf("reading MIDI: %w", err)
	}
	if len(b) > mostBytes {
		return m, fmt.Errorf("reading MIDI: it is longer than %d MiB", mostBytes>>20)
	}
	if err := checkLengths(b); err != nil {
		return m, fmt.Errorf("reading MIDI: %w", err)
	}
	s, err := smf.ReadFrom(bytes.NewReader(b))
	if err != nil {
		return m, fmt.Errorf("reading MIDI: %w", err)
	}
	resolution, ok := s.TimeFormat.(smf.MetricTicks)
	if !ok || resolution.Resolution() == 0 {
		return m, errors.New("reading MIDI: its times are in frames of film, which is not understood")
	}
	c := readClock(s, float64(resolution.Resolution()))
	if c.seconds(c.end) > mostSeconds {
		return m, fmt.Errorf("reading MIDI: it lasts longer than %d hours", mostSeconds/3600)
	}
	m.Key, m.Minor, m.BPM = c.key, c.minor, c.bpm
	m.Meter, m.Bars, m.FirstBar = c.bars(float64(resolution.Resolution()))
	for _, t := range s.Tracks {
		m.Parts = append(m.Parts, readTrack(t, c, s.Format() == 0)...)
	}
	return m, nil
}

// clock turns ticks into seconds.
type clock struct {
	changes []tempo
	key     int
	minor   bool // of the key
	bpm     float64
	meters  []meter
	end     int64 // tick of the last event
}

type meter struct {
	tick       int64
	num, denom uint8
}

type tempo struct {
	tick    int64
	perTick float64 // seconds from here on
	at      float64 // seconds here
}

// readClock gathers the tempo changes of all tracks, the tempo in which most notes
// begin and the first key.
func readClock(s *smf.SMF, resolution float64) clock {
	c := clock{key: -1, changes: []tempo{{0, 0.5 / resolution, 0}}}
	var begun []int64
	compound := false // the last meter has three eighths a beat
	for _, t := range s.Tracks {
		tick := int64(0)
		for _, e := range t {
			tick += int64(e.Delta)
			c.end = max(c.end, tick)
			var bpm float64
			var key smf.Key
			var ch, note, velocity, num, denom uint8
			switch {
			case e.Message.GetMetaTempo(&bpm) && bpm > 0:
				c.changes = append(c.changes, tempo{tick: tick, perTick: 60 / bpm / resolution})
			case e.Message.GetMetaMeter(&num, &denom):
				compound = denom == 8 && num > 3 && num%3 == 0
				c.meters = append(c.meters, meter{tick, num, denom})
			case c.key < 0 && e.Message.GetMetaKey(&key):
				c.key, c.minor = int(key.Key)%12, !key.IsMajor
			case e.Message.GetNoteStart(&ch, &note, &velocity):
				begun = append(begun, tick)
			}
		}
	}
	slices.SortStableFunc(c.changes, func(a, b tempo) int { return cmp.Compare(a.tick, b.tick) })
	most := 0
	for i := range c.changes {
		t := &c.changes[i]
		until := int64(math.MaxInt64)
		if i > 0 {
			before := c.changes[i-1]
			t.at = before.at + float64(t.tick-before.tick)*before.perTick
		}
		if i+1 < len(c.changes) {
			until = c.changes[i+1].tick
		}
		n := 0
		for _, at := range begun {
			if at >= t.tick && at < until {
				n++
			}
		}
		if n > most {
			most, c.bpm = n, 60/resolution/t.perTick
		}
	}
	if compound {
		c.bpm /= 1.5
	}
	return c
}

// mostBars is how many bars are told at most.
const mostBars = 10_000

// bars are the starts of the bars from the last change of the meter on, if the tab
// can have that meter; what comes before, a bar that is not whole, belongs to none.
func (c clock) bars(resolution float64) (name string, starts []float64, first int) {
	if len(c.meters) == 0 || len(c.meters) > 2 {
		return "", nil, 0
	}
	last := c.meters[len(c.meters)-1]
	name = fmt.Sprintf("%d/%d", last.num, last.denom)
	if _, ok := tab.Meters[name]; !ok {
		return "", nil, 0
	}
	length := 4 * float64(last.num) / float64(last.denom) * resolution
	for i := 0; i < mostBars; i++ {
		tick := last.tick + int64(math.Round(float64(i)*length))
		if tick > c.end {
			break
		}
		starts = append(starts, c.seconds(tick))
	}
	return name, starts, 1
}

func (c clock) seconds(tick int64) float64 {
	i, found := slices.BinarySearchFunc(c.changes, tick,
		func(t tempo, at int64) int { return cmp.Compare(t.tick, at) })
	if !found {
		i--
	}
	return c.changes[i].at + float64(tick-c.changes[i].tick)*c.changes[i].perTick
}

// voice is the state of one channel.
type voice struct {
	bend     float64 // semitones
	span     float64 // range of the bend, semitones
	param    [2]uint8
	sounding map[uint8]*open
	notes    []melody.Note
}

// open is a note that sounds. Held is how long each bend has been held, in ticks.
type open struct {
	from, since int64
	held        map[float64]int64
	bend        float64
}

const drums = 9

// readTrack reads the notes of a track, as one part or one for each channel.
func readTrack(t smf.Track, c clock, split bool) []melody.Part {
	name := ""
	var voices [16]voice
	for i := range voices {
		voices[i] = voice{span: 2, param: [2]uint8{127, 127}, sounding: map[uint8]*open{}}
	}
	lyrics := map[int64]string{}
	tick := int64(0)
	for _, e := range t {
		tick += int64(e.Delta)
		var text string
		switch {
		case name == "" && e.Message.GetMetaTrackName(&text):
			name = text
		case e.Message.GetMetaLyric(&text):
			lyrics[tick] = strings.TrimSpace(text)
		default:
			var ch uint8
			if e.Message.GetChannel(&ch) && ch < 16 && ch != drums {
				voices[ch].hear(e.Message, tick, c)
			}
		}
	}
	texts := map[float64]string{}
	for at, s := range lyrics {
		texts[c.seconds(at)] = s
	}
	var parts []melody.Part
	for ch := range voices {
		v := &voices[ch]
		for _, key := range slices.Sorted(maps.Keys(v.sounding)) { // never ended
			v.close(key, tick, c)
		}
		if len(v.notes) == 0 {
			continue
		}
		for i := range v.notes {
			v.notes[i].Text = texts[v.notes[i].Start]
		}
		if split || len(parts) == 0 {
			parts = append(parts, melody.Part{Name: name})
		}
		p := &parts[len(parts)-1]
		p.Notes = append(p.Notes, v.notes...)
	}
	for i := range parts {
		slices.SortStableFunc(parts[i].Notes, func(a, b melody.Note) int {
			return cmp.Or(cmp.Compare(a.Start, b.Start), cmp.Compare(a.Pitch, b.Pitch))
		})
	}
	return parts
}

// hear takes one message of the channel.
func (v *voice) hear(m smf.Message, tick int64, c clock) {
	var ch, key, vel, controller, value uint8
	var relative int16
	var absolute uint16
	switch {
	case m.GetNoteStart(&ch, &key, &vel):
		v.close(key, tick, c)
		v.sounding[key] = &open{from: tick, since: tick, held: map[float64]int64{}, bend: v.bend}
	case m.GetNoteEnd(&ch, &key):
		v.close(key, tick, c)
	case m.GetPitchBend(&ch, &relative, &absolute):
		v.bend = float64(relative) / fullBend * v.span
		for _, o := range v.sounding {
			o.held[o.bend] += tick - o.since
			o.since, o.bend = tick, v.bend
		}
	case m.GetControlChange(&ch, &controller, &value):
		switch controller {
		case 101:
			v.param[0] = value
		case 100:
			v.param[1] = value
		case 6:
			if v.param == [2]uint8{0, 0} {
				v.span = float64(value)
			}
		}
	}
}

// close ends a note, if it sounds.
func (v *voice) close(key uint8, tick int64, c clock) {
	o := v.sounding[key]
	if o == nil {
		return
	}
	delete(v.sounding, key)
	o.held[o.bend] += tick - o.since
	bends := slices.Sorted(maps.Keys(o.held))
	bend, passed := o.bend, int64(0)
	for _, b := range bends {
		if passed += o.held[b]; 2*passed >= tick-o.from {
			bend = b
			break
		}
	}
	v.notes = append(v.notes, melody.Note{Start: c.seconds(o.from), End: c.seconds(tick),
		Pitch: min(max(float64(key)+bend, 0), 127)})
}
