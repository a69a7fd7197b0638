package score

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"os"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// truthFile is the form of NAME.truth.json, which lies beside a clip.
type truthFile struct {
	Harp, Layout, Tier, Audio string
	Offset                    float64
	BPM, Bar0                 *float64
	Position                  int
	Seconds                   float64
	Phrases                   [][2]float64
	Events                    []struct {
		Start, End  float64
		Breath      string
		Holes       []int
		Bends, MIDI []float64
		Marks       []string
		Scoop       float64 // cents
		Vib         float64 // cents each way
		Vibrate     float64 // Hz
	}
}

// ReadTruth reads what was played in a clip: the harp's key, layout ("richter"
// if missing), the recording's offset in cents, bpm, audio file, tier, events
// with their marks, phrases, and bars of four beats from bar0 on. The song key is
// that of the position, second if missing.
func ReadTruth(path string) (d tab.Document, tier string, err error) {
	b, err := os.ReadFile(path)
	if err != nil {
		return d, "", fmt.Errorf("reading the truth: %w", err)
	}
	f := truthFile{Layout: "richter"}
	if err := json.Unmarshal(b, &f); err != nil {
		return d, "", fmt.Errorf("reading %s: %w", path, err)
	}
	l, err := harp.ParseLayout(f.Layout)
	if err != nil {
		return d, "", fmt.Errorf("reading %s: %w", path, err)
	}
	if d.Harp, err = harp.Parse(f.Harp, l); err != nil {
		return d, "", fmt.Errorf("reading %s: %w", path, err)
	}
	d.Recording, d.TuningCents, d.SongKey = f.Audio, f.Offset, harp.SongKey(d.Harp.Key(), cmp.Or(f.Position, 2))
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
			return d, "", fmt.Errorf("reading %s: event %d has %d bends for %d holes", path, n+1, len(e.Bends), len(e.Holes))
		}
		event := tab.Event{Start: e.Start, End: e.End, Pitches: e.MIDI}
		for i, hole := range e.Holes {
			a := harp.Action{Hole: hole, Bend: int(math.Round(e.Bends[i]))}
			if e.Breath == harp.Draw.String() {
				a.Breath = harp.Draw
			}
			event.Actions = append(event.Actions, a)
		}
		event.Texture = tab.Texture(event.Actions)
		for _, name := range e.Marks {
			m := tab.Mark{Name: name}
			switch name {
			case tab.Scoop:
				m.Cents = e.Scoop
			case tab.Vibrato, tab.HandVibrato:
				m.Cents, m.Hz = e.Vib, e.Vibrate
			}
			event.Marks = append(event.Marks, m)
		}
		d.Events = append(d.Events, event)
	}
	for _, p := range f.Phrases {
		d.Phrases = append(d.Phrases, tab.Phrase{Start: p[0], End: p[1]})
	}
	return d, f.Tier, nil
}
