package sheet

import (
	"fmt"
	"math"

	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/tab"
)

// phrase is a phrase of a tab without bars.
type phrase struct {
	Number int
	Label  string // such as phrase 2, A again
	Start  string // minutes and seconds
	Cells  []timed
	Notes  []string
}

// timed is a note or a rest with its time in seconds from the start of the phrase.
// Width grows with its length, in em.
type timed struct {
	cell
	At    string
	Width float64
}

// Seconds of silence that stand as a rest, and of a note that is held.
const leastRest, heldSeconds = 0.25, 0.6

// phrasesOf sets a tab by phrases and seconds.
func phrasesOf(d tab.Document, opt Options) []phrase {
	var out []phrase
	titles := labels(d)
	for n, events := range phrasing.Groups(d) {
		start := d.Events[events[0]].Start
		p := phrase{Number: n + 1, Start: tab.ShortClock(start)}
		sounded := start
		for _, i := range events {
			e := d.Events[i]
			if gap := e.Start - sounded; gap >= leastRest {
				p.Cells = append(p.Cells, timed{cell{Rest: true}, "", width(gap)})
			}
			c := timed{At: fmt.Sprintf("%.1f", e.Start-start), Width: width(e.End - e.Start), cell: cell{
				Tabs: opt.text(d, e), Names: opt.names(d, e), Marks: opt.marks(e),
				Doubtful: e.Doubtful() && !opt.Student, Held: e.End-e.Start >= heldSeconds,
			}}
			p.Cells = append(p.Cells, c)
			p.Notes = append(p.Notes, comments(d, i)...)
			sounded = max(sounded, e.End)
		}
		p.Label = titles[events[0]]
		out = append(out, p)
	}
	return out
}

// width of a length in seconds, in em.
func width(seconds float64) float64 { return math.Round(10*min(1.2+3.5*seconds, 9)) / 10 }
