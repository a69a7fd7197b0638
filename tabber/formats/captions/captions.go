// Package captions writes a tab as timed captions for a lesson video: WebVTT (W3C
// Candidate Recommendation, 4 April 2019) and SubRip.
//
// A caption holds a phrase, or as much of it as two lines hold. By event there is
// one for each event, which shows the same lines with that event bold.
package captions

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"blowdraw/tabber/formats"
	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/tab"
)

// Options say how captions are timed.
type Options struct {
	Offset  float64 // seconds to add to the tab's times
	ByEvent bool
}

// Cue is one caption, in seconds of the video. Lines are plain text, words parted
// by spaces; Bold is the index of the bold word, counted over the lines, or -1.
type Cue struct {
	Start, End float64
	Lines      [][]string
	Bold       int
}

const (
	lineWidth = 36  // characters; common practice for captions, no source
	mostLines = 2   // the same
	linger    = 0.5 // s that a caption stays after its last event
	shortest  = 0.001
)

// Cues makes the captions of a tab. What lies before the start of the video is
// left out.
func Cues(d tab.Document, opt Options) []Cue {
	var cues []Cue
	for _, phrase := range phrasing.Groups(d) {
		for _, part := range parts(d, phrase) {
			cues = append(cues, cuesOf(d, part, opt)...)
		}
	}
	kept := cues[:0]
	for i, c := range cues {
		if i+1 < len(cues) {
			c.End = min(c.End, cues[i+1].Start)
		}
		c.Start, c.End = max(0, tab.Rounded(c.Start)), tab.Rounded(c.End)
		if c.End > c.Start {
			kept = append(kept, c)
		}
	}
	return kept
}

// part is events that are shown together.
type part struct {
	events []int
	lines  [][]string
}

// parts breaks the events of a phrase into lines and the lines into captions.
func parts(d tab.Document, events []int) []part {
	var out []part
	width := lineWidth
	for _, i := range events {
		label := formats.Label(d, d.Events[i])
		n := utf8.RuneCountInString(label)
		if width+1+n > lineWidth {
			if len(out) == 0 || len(out[len(out)-1].lines) == mostLines {
				out = append(out, part{})
			}
			p := &out[len(out)-1]
			p.lines = append(p.lines, nil)
			width = -1
		}
		p := &out[len(out)-1]
		p.events = append(p.events, i)
		last := len(p.lines) - 1
		p.lines[last] = append(p.lines[last], label)
		width += 1 + n
	}
	return out
}

// cuesOf are the captions of one part.
func cuesOf(d tab.Document, p part, opt Options) []Cue {
	at := func(seconds float64) float64 { return seconds + opt.Offset }
	first, last := d.Events[p.events[0]], d.Events[p.events[len(p.events)-1]]
	if !opt.ByEvent {
		return []Cue{{at(first.Start), max(at(first.Start)+shortest, at(last.End)+linger), p.lines, -1}}
	}
	var out []Cue
	for n, i := range p.events {
		e := d.Events[i]
		end := e.End + linger
		if n+1 < len(p.events) {
			end = d.Events[p.events[n+1]].Start
		}
		out = append(out, Cue{at(e.Start), at(end), p.lines, n})
	}
	return out
}

// WriteVTT writes the captions of a tab as WebVTT.
func WriteVTT(w io.Writer, d tab.Document, opt Options) error {
	return write(w, "WEBVTT\n\n", Cues(d, opt), func(n int, c Cue) string {
		return fmt.Sprintf("%d\n%s --> %s\n%s\n\n",
			n, clock(c.Start, "."), clock(c.End, "."), text(c, escapeVTT))
	})
}

// WriteSRT writes the captions of a tab as SubRip, whose bold words most players
// show as such (common practice, no source).
func WriteSRT(w io.Writer, d tab.Document, opt Options) error {
	return write(w, "", Cues(d, opt), func(n int, c Cue) string {
		return fmt.Sprintf("%d\n%s --> %s\n%s\n\n",
			n, clock(c.Start, ","), clock(c.End, ","), text(c, strings.NewReplacer()))
	})
}

func write(w io.Writer, head string, cues []Cue, form func(n int, c Cue) string) error {
	b := bufio.NewWriter(w)
	b.WriteString(head)
	for i, c := range cues {
		b.WriteString(form(i+1, c))
	}
	if err := b.Flush(); err != nil {
		return fmt.Errorf("writing captions: %w", err)
	}
	return nil
}

// escapeVTT keeps text from being read as markup (WebVTT, section 4.2.2).
var escapeVTT = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;")

func text(c Cue, escape *strings.Replacer) string {
	var lines []string
	n := 0
	for _, words := range c.Lines {
		out := make([]string, len(words))
		for i, word := range words {
			out[i] = escape.Replace(word)
			if n == c.Bold {
				out[i] = "<b>" + out[i] + "</b>"
			}
			n++
		}
		lines = append(lines, strings.Join(out, " "))
	}
	return strings.Join(lines, "\n")
}

// clock writes seconds as both forms have them: hours, minutes, seconds and, behind the
// point, thousandths.
func clock(seconds float64, point string) string {
	ms := tab.Millis(seconds)
	return fmt.Sprintf("%02d:%02d:%02d%s%03d", ms/3600000, ms/60000%60, ms/1000%60, point, ms%1000)
}
