package tab

import (
	"fmt"
	"regexp"
	"strconv"
)

// Gap is a stretch of the recording that was left out since no harp seems to
// play there. In the text it stands as a comment on a line of its own.
type Gap struct {
	Start, End float64 // seconds from the start of the recording
	Voice      bool    // probably somebody sings or speaks
	LeftOut    int     // notes that were heard there but not written
}

// String is the comment's text:
//
//	0:04.180 to 0:11.494 probably a voice, 5 notes left out
//	0:24.816 to 0:32.392 no harp
func (g Gap) String() string {
	s := Clock(g.Start) + " to " + Clock(g.End)
	if g.Voice {
		s += " probably a voice"
	} else {
		s += " no harp"
	}
	switch g.LeftOut {
	case 0:
		return s
	case 1:
		return s + ", 1 note left out"
	}
	return fmt.Sprintf("%s, %d notes left out", s, g.LeftOut)
}

var gapText = regexp.MustCompile(`^(\S+) to (\S+) (no harp|probably a voice)(?:, (\d+) notes? left out)?$`)

// Gaps are those that the remarks tell of, in the order of the remarks.
func (d Document) Gaps() []Gap {
	var out []Gap
	for _, r := range d.Remarks {
		m := gapText.FindStringSubmatch(r.Text)
		if m == nil {
			continue
		}
		start, err := parseClock(m[1])
		end, err2 := parseClock(m[2])
		if err != nil || err2 != nil || end < start {
			continue // the reader's own words, after all
		}
		g := Gap{Start: start, End: end, Voice: m[3] != "no harp"}
		g.LeftOut, _ = strconv.Atoi(m[4])
		out = append(out, g)
	}
	return out
}

// AddGap adds a gap to the remarks, above the first event that starts after it
// begins.
func (d *Document) AddGap(g Gap) {
	before := 0
	for before < len(d.Events) && d.Events[before].Start < g.Start {
		before++
	}
	d.Remarks = append(d.Remarks, Remark{Before: before, Text: g.String()})
}
