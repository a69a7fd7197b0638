// Package sheet writes a tab to be handed out and played from without the recording: as
// an HTML page that prints well and loads nothing, and as Markdown.
//
// A tab with bars stands in bars of equal width, four a line and never broken, as the
// chart of a twelve-bar blues has them (common practice, no source); where four bars are
// too dense to be read there are two or one. Over a bar stand its number and chords; in it
// the tab, each note as far along as it begins, the reeds of a chord one above the other;
// under each note its count, in the words that players count with: 1 e & a, and 1 trip let
// where a beat is divided by three (common practice, no source). What is counted while
// nothing begins stands in brackets. Bars, places and lengths are those of package grid,
// and so of the MusicXML of the same tab.
//
// A tab without bars stands by phrases, with the seconds under the notes.
package sheet

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"blowdraw/tabber/formats"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/tab"
	"blowdraw/tabber/tab/grid"
)

// Options say for whom a sheet is.
type Options struct {
	Student bool // without doubts, cents and dB, which are the teacher's
	Notes   bool // with the notes' names, for other players
	Large   bool // for a music stand
}

// page is what is on a sheet: lines of bars or, if the tab has none, phrases.
type page struct {
	Options
	Title, Harp string
	Lines       []line
	Phrases     []phrase
	Doubts      []string // what to check by ear
	NoBars      string   // how to lay bars; empty if there are, or for a student
	Legend      []sign
}

func pageOf(d tab.Document, opt Options) page {
	p := page{Options: opt, Title: tab.OneLine(formats.Title(d)), Harp: formats.HarpLine(d)}
	if len(d.Bars) > 0 {
		p.Lines = linesOf(d, opt)
	} else {
		p.Phrases = phrasesOf(d, opt)
		if len(d.Events) > 0 && !opt.Student {
			p.NoBars = NoBars(d)
		}
	}
	for _, e := range d.Events {
		if e.Doubtful() && !opt.Student {
			p.Doubts = append(p.Doubts, fmt.Sprintf("%s: %s, %s", placeOf(d, e),
				strings.TrimSuffix(formats.Label(d, e), formats.Doubt), strings.TrimPrefix(d.Doubt(e), "? ")))
		}
	}
	p.Legend = legend(d, p)
	return p
}

// NoBars says of a tab without bars why its sheet has no counts, and how to lay bars.
func NoBars(d tab.Document) string {
	tempo := ""
	if d.BPM <= 0 {
		tempo = ", with the tempo, such as --bpm 92, or --taps"
	}
	return fmt.Sprintf("The tab has no bars, so that its sheet has seconds instead of counts. To lay them: "+
		"--bar-at %s, or when else a bar begins%s.", tab.Clock(d.Events[0].Start), tempo)
}

// placeOf is where an event stands, in words: its bar and count, or its time.
func placeOf(d tab.Document, e tab.Event) string {
	if p, ok := d.PlaceAt(e.Start); ok {
		return fmt.Sprintf("bar %d on %s", p.Bar, spoken(p.Beat, p.Twelfths*grid.Unit/12))
	}
	return tab.Clock(e.Start)
}

// counts are the words for parts of a beat, by units after it.
var counts = map[int]string{
	grid.Unit / 4: "e", grid.Unit / 2: "&", 3 * grid.Unit / 4: "a",
	grid.Unit / 3: "trip", 2 * grid.Unit / 3: "let",
}

// restSign is a rest where it cannot be drawn.
const restSign = "r"

// between stands where there is no word for a part of a beat.
const between = "·"

// count is what is counted on a beat, from 1, and some units after it.
func count(beat, after int) string {
	if after == 0 {
		return fmt.Sprint(beat)
	}
	return cmp.Or(counts[after], between)
}

// spoken is [count] with the beat that it belongs to.
func spoken(beat, after int) string {
	if after == 0 {
		return fmt.Sprint(beat)
	}
	return fmt.Sprintf("%d %s", beat, count(beat, after))
}

// text is an event as the sheet has it, a line for each reed, the highest first.
func (o Options) text(d tab.Document, e tab.Event) []string {
	var out []string
	for _, a := range e.Actions {
		out = append([]string{tab.Token([]harp.Action{a})}, out...)
	}
	switch {
	case len(out) > 0:
	case o.Student:
		for _, m := range d.Sounding(e) {
			out = append([]string{d.Harp.NoteName(m, d.SongKey)}, out...)
		}
	default:
		out = []string{strings.Trim(d.EventToken(e), "{}")}
	}
	return out
}

// names are the notes of an event, the highest first.
func (o Options) names(d tab.Document, e tab.Event) []string {
	var out []string
	for _, m := range d.Sounding(e) {
		if o.Notes {
			out = append([]string{d.Harp.NoteName(m, d.SongKey)}, out...)
		}
	}
	return out
}

// markSigns stand for marks, which would take too much room as words.
var markSigns = map[string]string{
	tab.Slap: "sl", tab.Pull: "pl", tab.Tongued: "t", tab.Legato: "l", tab.Wah: "w", tab.Scoop: "/",
	tab.Release: "rel", tab.Glide: "g", tab.Dip: "v", tab.Shake: "tr", tab.Vibrato: "~",
	tab.HandVibrato: "h~", tab.Fall: `\`, tab.HandClose: "c", tab.Accent: ">",
}

// marks of an event, by their signs; those that measure are the teacher's.
func (o Options) marks(e tab.Event) string {
	var out []string
	for _, m := range e.Marks {
		if s := markSigns[m.Name]; s != "" {
			out = append(out, s)
		} else if !o.Student {
			out = append(out, m.String())
		}
	}
	return strings.Join(out, " ")
}

// labels of the phrases and of what is played again, by event: the same letter is the
// same again, on the same degrees if not on the same holes.
func labels(d tab.Document) map[int]string {
	out := map[int]string{}
	for n, events := range phrasing.Groups(d) {
		out[events[0]] = fmt.Sprint("phrase ", n+1)
	}
	motifs := phrasing.Recurring(d)
	slices.SortStableFunc(motifs, func(a, b phrasing.Motif) int { return a.Times[0][0] - b.Times[0][0] })
	for i, m := range motifs {
		for k, t := range m.Times {
			text := letters(i)
			switch {
			case k > 0 && m.SameHoles:
				text += " again"
			case k > 0:
				text += " again, other holes"
			}
			if out[t[0]] != "" {
				text = out[t[0]] + ", " + text
			}
			out[t[0]] = text
		}
	}
	return out
}

// letters are A to Z, then AA and so on.
func letters(i int) string {
	s := string(rune('A' + i%26))
	if i >= 26 {
		return letters(i/26-1) + s
	}
	return s
}

// comments are the reader's own words beside an event and on the lines above it.
func comments(d tab.Document, i int) []string {
	var out []string
	add := func(text string) {
		if text = strings.TrimSpace(tab.OneLine(text)); text != "" {
			out = append(out, text)
		}
	}
	for _, r := range d.Remarks {
		if r.Before == i || i == 0 && r.Before < 0 || i == len(d.Events)-1 && r.Before > i {
			add(r.Text)
		}
	}
	if e := d.Events[i]; strings.TrimSpace(e.Comment) != "" {
		add(fmt.Sprintf("%s, %s: %s", placeOf(d, e), tab.Token(e.Actions), strings.TrimSpace(e.Comment)))
	}
	return out
}

// sign is a line of the legend.
type sign struct{ Sign, Meaning string }

// legend explains the signs that occur.
func legend(d tab.Document, p page) []sign {
	has := occurring(d)
	var out []sign
	for _, s := range []struct {
		occurs bool
		sign
	}{
		{has["blow"], sign{"4", "blow hole 4"}},
		{has["draw"], sign{"-4", "draw hole 4"}},
		{has["bend"], sign{"'", "bend a semitone down; '' two"}},
		{has["over"], sign{"6o", "overblow; with a minus overdraw"}},
		{has["doubt"] && !p.Student, sign{formats.Doubt, "not sure: check by ear"}},
		{has["foreign"], sign{"Bb4", "this note, which the harp does not have"}},
	} {
		if s.occurs {
			out = append(out, s.sign)
		}
	}
	out = append(out, p.countSigns()...)
	for _, w := range tab.MarkWords() {
		s := markSigns[w.Name]
		switch {
		case !has[w.Name] || s == "" && p.Student:
		case s == "": // the meaning begins with how it looks
			s, meaning, _ := strings.Cut(w.Meaning, ": ")
			out = append(out, sign{s, meaning})
		default:
			out = append(out, sign{s, w.Name + ", " + w.Meaning})
		}
	}
	return out
}

// occurring are the kinds of things that occur in a tab, and its marks.
func occurring(d tab.Document) map[string]bool {
	has := map[string]bool{}
	for _, e := range d.Events {
		for _, a := range e.Actions {
			has[a.Breath.String()] = true
			has["bend"], has["over"] = has["bend"] || a.Bend > 0, has["over"] || a.Bend < 0
		}
		has["foreign"] = has["foreign"] || len(e.Actions) == 0
		has["doubt"] = has["doubt"] || e.Doubtful()
		for _, m := range e.Marks {
			has[m.Name] = true
		}
	}
	return has
}

// countSigns explain the counts, rests and labels that occur.
func (p page) countSigns() []sign {
	seen := p.seen()
	var out []sign
	for _, s := range []struct {
		occurs bool
		sign
	}{
		{len(p.Lines) > 0, sign{"1 2 3 4", "the beats of the bar: count them aloud and evenly"}},
		{seen["&"], sign{"1 &", "a beat in two"}},
		{seen["e"] || seen["a"], sign{"1 e & a", "a beat in four"}},
		{seen["trip"] || seen["let"], sign{"1 trip let", "a beat in three"}},
		{seen[between], sign{between, "between the counts beside it"}},
		{seen["("], sign{"(2)", "counted; nothing begins on it"}},
		{seen["held"], sign{"-2 —", "held on"}},
		{seen[restSign], sign{restSign, "rest"}},
		{seen["tie"], sign{"(-2)", "held over the bar line, not played again"}},
		{seen["chorus"], sign{"13 (1)", "bar 13, the first of its chorus"}},
		{seen["again"], sign{"A again", "what began at A is played again"}},
		{len(p.Phrases) > 0, sign{"0.5", "seconds from the start of the phrase"}},
	} {
		if s.occurs {
			out = append(out, s.sign)
		}
	}
	return out
}

// seen are the counts that a sheet has, and what else its bars have.
func (p page) seen() map[string]bool {
	seen := map[string]bool{}
	for _, l := range p.Lines {
		for _, b := range l.Bars {
			for _, s := range b.Slots {
				seen[s.Count] = true
				seen["("] = seen["("] || s.Silent && !b.Rest
			}
			seen["chorus"] = seen["chorus"] || b.OfChorus > 0
			for _, c := range b.Cells {
				seen["held"], seen["tie"] = seen["held"] || c.Held, seen["tie"] || c.TiedFrom
				seen[restSign] = seen[restSign] || c.Rest
			}
			for _, l := range b.Labels {
				seen["again"] = seen["again"] || strings.Contains(l.Text, " again")
			}
		}
	}
	for _, ph := range p.Phrases {
		for _, c := range ph.Cells {
			seen["held"], seen[restSign] = seen["held"] || c.Held, seen[restSign] || c.Rest
		}
		seen["again"] = seen["again"] || strings.Contains(ph.Label, " again")
	}
	return seen
}
