// Package melody turns notes from elsewhere, a MIDI file or a score, into tab for a
// harp.
package melody

import (
	"math"
	"slices"
	"strings"

	"blowdraw/onset"
	"blowdraw/tabber/formats"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/retab"
	"blowdraw/tabber/tab"
)

// Note is one note. Times are in seconds.
type Note struct {
	Start, End float64
	Pitch      float64 // fractional MIDI number as it sounds
	Text       string  // lyric under it; may be empty
}

// Part is what one player plays.
type Part struct {
	Name  string
	Notes []Note // by Start
}

// Melody is a piece of music. Key is the pitch class of its key, -1 if it is not
// told, and Minor whether that is a minor key; BPM is its tempo in beats a minute, 0 if not told.
//
// Bars are the starts of its bars in seconds, the first numbered FirstBar; Meter is
// one of [tab.Meters]. Both are empty if the bars are not told, or not all of one
// meter that a tab can have.
type Melody struct {
	Parts    []Part
	Key      int
	Minor    bool
	BPM      float64
	Bars     []float64
	FirstBar int
	Meter    string
}

// together is how many seconds may part the starts of notes that are played as one.
const together = 0.02

// Tab writes a part for a harp, in songKey, a pitch class. The holes are chosen as
// for any other tab, see [retab.Music]; but where the text under a note is tab that
// gives just the notes that sound, as in a score that was written from tab, it
// stays. The flags tell what the harp does not have.
func (m Melody) Tab(p Part, h harp.Harp, songKey int, overbends bool) (tab.Document, []retab.Flag) {
	d := tab.Document{Harp: h, SongKey: songKey, Meter: m.Meter}
	if m.BPM >= tab.LeastBPM && m.BPM <= tab.MostBPM {
		d.BPM = m.BPM
	}
	var spans [][2]float64
	for i := 0; i < len(p.Notes); {
		j := i + 1
		for j < len(p.Notes) && p.Notes[j].Start-p.Notes[i].Start <= together {
			j++
		}
		e := event(h, p.Notes[i:j])
		if n := len(d.Events); n > 0 {
			before := &d.Events[n-1]
			before.End = max(before.Start, min(before.End, e.Start)) // one mouth
			spans[n-1][1] = before.End
		}
		d.Events = append(d.Events, e)
		spans = append(spans, [2]float64{e.Start, e.End})
		d.To = max(d.To, e.End)
		i = j
	}
	d.Bars = m.bars(d.To)
	for _, s := range onset.Phrases(spans, onset.Space) {
		d.Phrases = append(d.Phrases, tab.Phrase{Start: s[0], End: s[1]})
	}
	out, flags := retab.Music(d, h, songKey, overbends)
	out.Notes = nil // nothing was moved from another harp
	for i, e := range d.Events {
		if e.Actions != nil && slices.Equal(d.Sounding(e), out.Sounding(out.Events[i])) {
			out.Events[i].Actions, out.Events[i].Texture = e.Actions, tab.Texture(e.Actions)
		}
	}
	return out, flags
}

// shortestBar is how many seconds a bar lasts at least; what has shorter ones, such
// as a measure without anything in it, keeps no time.
const shortestBar = 0.1

// bars until a time; none if one of them is too short.
func (m Melody) bars(to float64) []tab.Bar {
	var bars []tab.Bar
	for i, at := range m.Bars {
		if at > to {
			break
		}
		if i > 0 && at < m.Bars[i-1]+shortestBar {
			return nil
		}
		bars = append(bars, tab.Bar{Number: m.FirstBar + i, Start: at})
	}
	return bars
}

// event of notes that are played together, lowest first and none twice.
func event(h harp.Harp, notes []Note) tab.Event {
	e := tab.Event{Start: notes[0].Start, Confidence: 1}
	var pitches []int
	text := ""
	for _, n := range notes {
		e.End = max(e.End, n.End)
		if p := int(math.Round(n.Pitch)); !slices.Contains(pitches, p) {
			pitches = append(pitches, p)
		}
		if text == "" {
			text = n.Text
		}
	}
	slices.Sort(pitches)
	for _, p := range pitches {
		e.Pitches = append(e.Pitches, float64(p))
	}
	e.Actions = written(h, text, pitches)
	return e
}

// written is the tab that a text says if it gives just these notes, else nil.
func written(h harp.Harp, text string, pitches []int) []harp.Action {
	actions, err := tab.ParseToken(h, strings.TrimSuffix(strings.TrimSpace(text), formats.Doubt))
	if err != nil {
		return nil
	}
	var sounds []int
	for _, a := range actions {
		sounds = append(sounds, h.MIDI(a))
	}
	slices.Sort(sounds)
	if !slices.Equal(sounds, pitches) {
		return nil
	}
	return actions
}
