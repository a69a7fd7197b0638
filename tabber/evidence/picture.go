package evidence

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"unicode/utf8"
)

// rung is one frequency of the ladder: a partial of one reed or of several.
type rung struct {
	hz, level, expected float64
	numbers             []int // of each reed's partial, 0 for none
	shared              bool
}

// rungs are the partials of all reeds, those that coincide together, from low to
// high.
func rungs(reeds []Reed) []rung {
	var out []rung
	for i, r := range reeds {
		for _, p := range r.Partials {
			at := slices.IndexFunc(out, func(x rung) bool { return same(x.hz, p.Hz) })
			if at < 0 {
				at = len(out)
				out = append(out, rung{hz: p.Hz, level: p.Level, expected: math.Inf(1), numbers: make([]int, len(reeds))})
			}
			out[at].numbers[i] = p.Number
			if p.Shared {
				out[at].expected, out[at].shared = min(out[at].expected, p.Expected), true
			}
		}
	}
	slices.SortStableFunc(out, func(a, b rung) int { return cmp.Compare(a.hz, b.hz) })
	return out
}

const (
	barWidth = 30 // characters
	bottomDB = 60 // dB below the strongest partial, the least that is drawn
	explains = "█"
	beyond   = "▒"
)

// WriteLadder draws the partials as a ladder: a rung for each frequency with the
// number of the partial under each reed's name, its level below the strongest, and
// a bar. The light part of a bar is what goes beyond the first reed.
func WriteLadder(w io.Writer, reeds []Reed, indent string) error {
	rows := rungs(reeds)
	top := math.Inf(-1)
	for _, r := range rows {
		top = max(top, r.level)
	}
	var b strings.Builder
	b.WriteString(indent + "   Hz")
	for _, r := range reeds {
		fmt.Fprintf(&b, "  %4s", r.Name)
	}
	b.WriteString("   dB\n")
	for _, r := range rows {
		if r.level < top-bottomDB {
			continue
		}
		fmt.Fprintf(&b, "%s%5.0f", indent, r.hz)
		for i, n := range r.numbers {
			mark := ""
			if n > 0 {
				mark = fmt.Sprint(n)
			}
			b.WriteString(
				"  " + strings.Repeat(" ", max(0, max(4, utf8.RuneCountInString(reeds[i].Name))-len(mark))) + mark,
			)
		}
		full := cells(r.level - top)
		dark := full
		if r.shared {
			dark = min(full, cells(r.expected-top))
		} else if r.numbers[0] == 0 {
			dark = 0
		}
		fmt.Fprintf(
			&b,
			"  %3.0f  %s%s\n",
			r.level-top,
			strings.Repeat(explains, dark),
			strings.Repeat(beyond, full-dark),
		)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// cells of a bar at a level in dB below the strongest partial.
func cells(db float64) int {
	return min(max(int(math.Round(barWidth*(1+db/bottomDB))), 0), barWidth)
}
