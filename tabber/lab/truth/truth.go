// Package truth holds what was played in a clip: the file NAME.truth.json that lies
// beside a recording, made with it or written by people who listened to it.
package truth

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/lab/files"
	"blowdraw/tabber/tab"
)

// Suffix is what the name of a truth has after the clip's.
const Suffix = ".truth.json"

// File is the JSON form of a clip's truth. Times are in seconds from the start of the
// recording, pitches fractional MIDI numbers, levels dB, offset cents.
type File struct {
	Harp        string       `json:"harp"`               // key
	Layout      string       `json:"layout"`             // richter if it is not told
	Position    int          `json:"position,omitempty"` // 0: second is taken for it
	Temperament string       `json:"temper"`
	Offset      float64      `json:"offset"` // of the whole recording against A4 = 440 Hz
	BPM         *float64     `json:"bpm"`    // null: the phrases keep no tempo
	Bar0        *float64     `json:"bar0,omitempty"`
	Seconds     float64      `json:"seconds"`
	Tier        string       `json:"tier"` // kind of difficulty
	Source      string       `json:"source"`
	Audio       string       `json:"audio"` // the recording's file, in the same folder
	Phrases     [][2]float64 `json:"phrases"`
	Unheard     [][2]float64 `json:"unheard,omitempty"` // stretches of which nobody could say what is played
	Events      []Event      `json:"events"`
	HarpDB      *float64     `json:"harp_db,omitempty"` // the harp's level against the rest
	Parts       []Part       `json:"parts,omitempty"`   // of a song
}

// Event is one thing played: one reed or several of one breath. MIDI, Bends (semitones
// down), Levels and Late (seconds) have a value for each of Holes.
type Event struct {
	Start   float64   `json:"start"`
	End     float64   `json:"end"`
	Breath  string    `json:"breath"`
	Holes   []int     `json:"holes"`
	Bends   []float64 `json:"bends"`
	MIDI    []float64 `json:"midi"`
	Levels  []float64 `json:"levels"`
	Late    []float64 `json:"late"`
	Texture string    `json:"texture"`
	Marks   []string  `json:"marks"`
	Scoop   float64   `json:"scoop"`   // cents
	Vib     float64   `json:"vib"`     // cents each way
	Vibrate float64   `json:"vibrate"` // Hz

	// Of recordings that several people annotated: whether they agree (not told: they
	// do), what else it may be, and what sounds on from before.
	Sure  *bool  `json:"sure,omitempty"`
	Or    string `json:"or,omitempty"`
	Bleed string `json:"bleed,omitempty"`
}

// Part is a stretch of a song, in seconds, and who plays there.
type Part struct {
	Kind       string
	Start, End float64
}

// Agreed tells whether those who annotated the event agree on it.
func (e Event) Agreed() bool { return e.Sure == nil || *e.Sure }

// tierLevels are the harp's levels in dB against the band in tiers whose truth does not
// state them.
var tierLevels = map[string]float64{"band+6": 6, "band0": 0, "record": 3}

// Level is the harp's level in dB against the band as the truth states it, or else its
// tier; not known if neither does.
func (f File) Level() (db float64, known bool) {
	if f.HarpDB != nil {
		return *f.HarpDB, true
	}
	db, known = tierLevels[f.Tier]
	return db, known
}

// Of is the truth's path for a clip of that name in a folder.
func Of(dir, name string) string { return filepath.Join(dir, name+Suffix) }

// Name is the clip's, of its truth's path.
func Name(path string) string { return strings.TrimSuffix(filepath.Base(path), Suffix) }

// In lists the truths in a folder by name; it is an error if there are none.
func In(dir string) ([]string, error) {
	paths, err := filepath.Glob(filepath.Join(dir, "*"+Suffix))
	if err != nil || len(paths) == 0 {
		return nil, fmt.Errorf("no clips (NAME%s) in %s", Suffix, dir)
	}
	return paths, nil
}

// Read reads a truth.
func Read(path string) (File, error) {
	f := File{Layout: "richter"}
	b, err := os.ReadFile(path)
	if err != nil {
		return f, fmt.Errorf("reading the truth: %w", err)
	}
	if err := json.Unmarshal(b, &f); err != nil {
		return f, fmt.Errorf("reading %s: %w", path, err)
	}
	if _, err := f.Document(); err != nil {
		return f, fmt.Errorf("reading %s: %w", path, err)
	}
	return f, nil
}

// ReadDocument reads a truth as a document, with its tier.
func ReadDocument(path string) (d tab.Document, tier string, err error) {
	f, err := Read(path)
	if err != nil {
		return d, "", err
	}
	d, err = f.Document()
	return d, f.Tier, err
}

// Write writes a truth whole or not at all.
func Write(path string, f File) error {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetIndent("", " ")
	if err := e.Encode(f); err != nil {
		return fmt.Errorf("writing %s: %w", path, err)
	}
	return files.WriteBytes(path, b.Bytes())
}

// Document is the truth as a tab: harp, offset in cents, tempo, events with their marks,
// phrases, and bars of four beats from bar0 on. The song key is that of the position.
func (f File) Document() (tab.Document, error) {
	var d tab.Document
	l, err := harp.ParseLayout(f.Layout)
	if err != nil {
		return d, err
	}
	if d.Harp, err = harp.Parse(f.Harp, l); err != nil {
		return d, err
	}
	d.Recording, d.TuningCents = f.Audio, f.Offset
	d.SongKey = harp.SongKey(d.Harp.Key(), cmp.Or(f.Position, 2))
	if f.BPM != nil {
		d.BPM = *f.BPM
	}
	if f.Bar0 != nil && d.BPM > 0 {
		d.Meter = "4/4"
		for at := *f.Bar0; at < f.Seconds; at += 4 * 60 / d.BPM {
			d.Bars = append(d.Bars, tab.Bar{Number: len(d.Bars) + 1, Start: at})
		}
	}
	for n, e := range f.Events {
		if len(e.Bends) != len(e.Holes) {
			return d, fmt.Errorf("event %d has %d bends for %d holes", n+1, len(e.Bends), len(e.Holes))
		}
		d.Events = append(d.Events, e.event())
	}
	for _, p := range f.Phrases {
		d.Phrases = append(d.Phrases, tab.Phrase{Start: p[0], End: p[1]})
	}
	return d, nil
}

func (e Event) event() tab.Event {
	out := tab.Event{Start: e.Start, End: e.End, Pitches: e.MIDI}
	for i, hole := range e.Holes {
		a := harp.Action{Hole: hole, Bend: int(math.Round(e.Bends[i]))}
		if e.Breath == harp.Draw.String() {
			a.Breath = harp.Draw
		}
		out.Actions = append(out.Actions, a)
	}
	out.Texture = tab.Texture(out.Actions)
	for _, name := range e.Marks {
		m := tab.Mark{Name: name}
		switch name {
		case tab.Scoop:
			m.Cents = e.Scoop
		case tab.Vibrato, tab.HandVibrato:
			m.Cents, m.Hz = e.Vib, e.Vibrate
		}
		out.Marks = append(out.Marks, m)
	}
	return out
}
