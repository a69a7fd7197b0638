package sheet

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"html"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"blowdraw/tabber/formats/invent"
	"blowdraw/tabber/formats/musicxml"
	"blowdraw/tabber/tab"
	"blowdraw/tabber/tab/grid"
)

// shown is a note or rest of a bar as a reader sees it: where it begins in units of a
// bar, how long it lasts, how many reeds sound, and whether it is held on from before.
type shown struct {
	bar, at, length, reeds int
	held                   bool
}

// score is the part of MusicXML that tells bars, lengths and ties.
type score struct {
	Measures []struct {
		Number     int `xml:"number,attr"`
		Attributes struct {
			Divisions int `xml:"divisions"`
			Beats     int `xml:"time>beats"`
			BeatType  int `xml:"time>beat-type"`
		} `xml:"attributes"`
		Notes []struct {
			Chord    *struct{} `xml:"chord"`
			Rest     *struct{} `xml:"rest"`
			Duration int       `xml:"duration"`
			Ties     []struct {
				Type string `xml:"type,attr"`
			} `xml:"tie"`
		} `xml:"note"`
	} `xml:"part>measure"`
}

// inScore are the notes and rests of the MusicXML of a tab; tied notes of one bar are one,
// and so are rests beside each other.
func inScore(t *testing.T, d tab.Document) []shown {
	t.Helper()
	var b bytes.Buffer
	if err := musicxml.Write(&b, d); err != nil {
		t.Fatal(err)
	}
	var s score
	if err := xml.Unmarshal(b.Bytes(), &s); err != nil {
		t.Fatal(err)
	}
	quarters := float64(s.Measures[0].Attributes.Divisions)
	beat := quarters // divisions
	if s.Measures[0].Attributes.BeatType == 8 {
		beat = 1.5 * quarters
	}
	var out []shown
	for _, m := range s.Measures {
		at := 0
		for _, n := range m.Notes {
			if n.Chord != nil {
				out[len(out)-1].reeds++
				continue
			}
			x := shown{bar: m.Number, at: at, length: int(float64(n.Duration) * grid.Unit / beat), reeds: 1}
			if n.Rest != nil {
				x.reeds = 0
			}
			for _, tie := range n.Ties {
				x.held = x.held || tie.Type == "stop"
			}
			at += x.length
			last := len(out) - 1
			if last >= 0 && out[last].bar == x.bar && (x.held || x.reeds == 0 && out[last].reeds == 0) {
				out[last].length += x.length
				out[last].reeds = x.reeds // those of its chord follow
				continue
			}
			out = append(out, x)
		}
	}
	return out
}

var (
	barForm = regexp.MustCompile(`<div class="bar" style="grid-template-columns:([^;]*);[^>]*>` +
		`<span class="number">(-?\d+)`)
	slotForm = regexp.MustCompile(`minmax\(min-content,(\d+)fr\)`)
	cellForm = regexp.MustCompile(`<span class="(note|rest)([^"]*)" style="grid-column:(\d+)/(\d+)"[^>]*>` +
		`(?:<span>(.*?)</span>)?`)
	countForm = regexp.MustCompile(`<span class="count( silent)?" style="grid-column:(\d+)/\d+">([^<]*)</span>`)
)

// inSheet are the notes and rests of a sheet, read from its page; the counts under the
// notes are held against their places.
func inSheet(t *testing.T, page string) []shown {
	t.Helper()
	var out []shown
	for line := range strings.SplitSeq(page, "\n") {
		b := barForm.FindStringSubmatch(line)
		if b == nil {
			continue
		}
		number, _ := strconv.Atoi(b[2])
		starts := []int{0, 0} // by column, from 1
		for _, s := range slotForm.FindAllStringSubmatch(b[1], -1) {
			n, _ := strconv.Atoi(s[1])
			starts = append(starts, starts[len(starts)-1]+n)
		}
		if strings.Contains(line, `class="rest all"`) {
			out = append(out, shown{bar: number, length: starts[len(starts)-1]})
			continue
		}
		counted := map[int]bool{} // notes that begin, by count
		for _, c := range countForm.FindAllStringSubmatch(line, -1) {
			column, _ := strconv.Atoi(c[2])
			if got, ok := unitsOf(html.UnescapeString(c[3]), starts[column]); !ok {
				t.Fatalf("bar %d: %q is counted %d units into it", number, c[3], got)
			}
			counted[starts[column]] = c[1] == ""
		}
		for _, c := range cellForm.FindAllStringSubmatch(line, -1) {
			from, _ := strconv.Atoi(c[3])
			to, _ := strconv.Atoi(c[4])
			x := shown{number, starts[from], starts[to] - starts[from], strings.Count(c[5], "<i>"),
				strings.Contains(c[2], " from")}
			if begins := x.reeds > 0 && !x.held; begins != counted[x.at] {
				t.Fatalf("bar %d, %d: the count says that a note begins: %v", number, x.at, counted[x.at])
			}
			out = append(out, x)
		}
	}
	return out
}

// unitsOf reports whether a count such as 2, (&) or trip stands at a place in units of a bar.
func unitsOf(text string, at int) (int, bool) {
	text = strings.Trim(text, "()")
	into := at % 24
	switch text {
	case "e":
		return at, into == 6
	case "&":
		return at, into == 12
	case "a":
		return at, into == 18
	case "trip":
		return at, into == 8
	case "let":
		return at, into == 16
	case "·":
		return at, !slices.Contains([]int{0, 6, 8, 12, 16, 18}, into)
	}
	n, err := strconv.Atoi(text)
	return at, err == nil && at == 24*(n-1)
}

// The sheet has the bars, counts and lengths of the MusicXML of the same tab (which
// musicxml's own tests hold against the W3C's schema and an engraver).
func TestAsMusicXML(t *testing.T) {
	compared := 0
	for seed := range uint64(300) {
		d := invent.Document(seed, true)
		if len(d.Bars) == 0 {
			continue
		}
		compared++
		page := written(t, d, Options{Student: seed%2 == 0, Notes: seed%3 == 0, Large: seed%5 == 0})
		got, want := inSheet(t, page), inScore(t, d)
		if !slices.Equal(got, want) {
			t.Fatalf("seed %d: %s", seed, differing(got, want))
		}
	}
	if compared < 100 {
		t.Errorf("only %d tabs have bars", compared)
	}
}

func differing(got, want []shown) string {
	for i := range min(len(got), len(want)) {
		if got[i] != want[i] {
			return fmt.Sprintf("%d: %+v, want %+v", i, got[i], want[i])
		}
	}
	return fmt.Sprintf("%d notes and rests, want %d", len(got), len(want))
}
