package tab

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"
	"unicode"

	"blowdraw/tabber/harp"
)

// An event is marked as doubtful when its confidence is below SureFrom, or when
// the next likeliest reading has at least RunnerUp. Both are compared in whole
// percents, as the reader sees them.
const (
	SureFrom = 0.90
	RunnerUp = 0.15
)

// Doubtful reports whether the reader should check the event: something is in doubt, or the
// numbers say so. A sound that the harp cannot play always is.
func (e Event) Doubtful() bool {
	if len(e.Actions) == 0 || len(e.Doubts) > 0 || percent(e.Confidence) < percent(SureFrom) {
		return true
	}
	return len(e.Alternatives) > 0 && percent(e.Alternatives[0].Confidence) >= percent(RunnerUp)
}

// percent rounds a probability to whole percents.
func percent(p float64) int { return int(math.Round(100 * min(max(p, 0), 1))) }

// fixed writes a number with that many decimals, and zero without a sign.
func fixed(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.HasPrefix(s, "-") && strings.Trim(s, "-0.") == "" {
		return s[1:]
	}
	return s
}

// round1 rounds to one decimal, the precision of the tuning in a document.
func round1(v float64) float64 { return math.Round(10*v) / 10 }

// Sounding lists the notes of an event as MIDI numbers: of its reeds, or, when
// the harp cannot play it, those nearest to its pitches.
func (d Document) Sounding(e Event) []int {
	var out []int
	for _, a := range e.Actions {
		out = append(out, d.Harp.MIDI(a))
	}
	if len(e.Actions) == 0 {
		for _, p := range e.Pitches {
			midi, _ := nearestNote(p, round1(d.TuningCents))
			out = append(out, midi)
		}
	}
	return out
}

func (d Document) degrees(e Event) []string {
	var out []string
	for _, m := range d.Sounding(e) {
		out = append(out, harp.Degree(m, d.SongKey))
	}
	return out
}

// interval names the interval between the outer notes of an event of two reeds
// or more; otherwise it is empty.
func (d Document) interval(e Event) string {
	m := d.Sounding(e)
	if len(e.Actions) < 2 {
		return ""
	}
	return harp.Interval(m[len(m)-1] - m[0])
}

// SongName is the key of the song as it is written: G, or in minor Gm.
func (d Document) SongName() string {
	name := d.Harp.KeyName(d.SongKey)
	if d.Minor {
		name += "m"
	}
	return name
}

// HarpPosition is the position that the song is played in, 1 to 12.
func (d Document) HarpPosition() int { return harp.Position(d.Harp.Key(), d.SongKey) }

// check reports what no form of the document could say.
func (d Document) check() error {
	if h, err := harp.Parse(d.Harp.Name, d.Harp.Layout); err != nil {
		return err
	} else if h.Base != d.Harp.Base {
		return fmt.Errorf("harp %q has hole 1 blow at MIDI %d, not %d", d.Harp.Name, h.Base, d.Harp.Base)
	}
	for i, e := range d.Events {
		for _, v := range append([]float64{e.Start, e.End, e.Confidence}, e.Pitches...) {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return fmt.Errorf("event %d has a time, pitch or confidence that is no number", i+1)
			}
		}
		switch {
		case e.Start < 0 || e.End < e.Start:
			return fmt.Errorf("event %d runs from %g to %g s", i+1, e.Start, e.End)
		case i > 0 && e.Start < d.Events[i-1].Start:
			return fmt.Errorf("event %d starts before event %d", i+1, i)
		}
		for _, x := range e.Doubts {
			if doubtWord(x.Word) != x.Word || math.IsNaN(x.Probability) {
				return fmt.Errorf("event %d has an unknown doubt %q", i+1, x.Word)
			}
		}
		for _, m := range e.Marks {
			if markPlace(m.Name) < 0 {
				return fmt.Errorf("event %d has an unknown mark %q", i+1, m.Name)
			}
		}
		for _, a := range e.Actions {
			if !d.Harp.Plays(a) {
				return fmt.Errorf("event %d: the harp has no %s", i+1, noteToken(a))
			}
		}
		for _, alt := range e.Alternatives {
			for _, a := range alt.Actions {
				if !d.Harp.Plays(a) {
					return fmt.Errorf("event %d: the harp has no %s", i+1, noteToken(a))
				}
			}
		}
	}
	if err := d.checkBars(); err != nil {
		return err
	}
	for i, p := range d.Phrases {
		inOrder := i == 0 || p.Start >= d.Phrases[i-1].Start
		if !(p.Start >= 0 && p.End >= p.Start && p.End < math.Inf(1)) || !inOrder {
			return fmt.Errorf("phrase %d runs from %g to %g s", i+1, p.Start, p.End)
		}
	}
	return nil
}

// phraseOf is the index of the phrase that an event belongs to, the last one
// that has begun when the event starts, or -1. Times are compared in
// milliseconds, as the reader sees them.
func phraseOf(phrases []Phrase, e Event) int {
	later := func(i int) bool { return Millis(phrases[i].Start) > Millis(e.Start) }
	return sort.Search(len(phrases), later) - 1
}

// OneLine keeps text from outside on one line: control characters become spaces, and so do
// the two that XML cannot hold (Extensible Markup Language 1.0, section 2.2).
func OneLine(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == 0xfffe || r == 0xffff {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
}

// clean is one line of text without spaces at the end.
func clean(s string) string { return strings.TrimRightFunc(OneLine(s), unicode.IsSpace) }

// valueText is clean text for a header line.
func valueText(s string) string { return strings.TrimSpace(clean(s)) }
