package tab

import (
	"slices"
	"strings"
	"testing"
)

// Written by hand: what is odd about each event is known.
func TestOddTimes(t *testing.T) {
	d, err := Parse(strings.NewReader(`blowdraw tab 1
section: 0:01.000 to 0:05.000
harp: C
song: G
0:00.200 0.300 -2
0:01.000 0.519 -2
0:01.500 0.600 4
0:02.000 0.600 -4
0:02.500 0.700 5
0:03.100 0.000 -5
0:04.000 1.500 {Bb4+30}
0:04.900 0.100 4
0:05.500 0.500 -1
`))
	if err != nil {
		t.Fatal(err)
	}
	want := []OddTime{
		{0, "lies outside the section"},
		{2, "reaches 0.100 s into the next event, which has the other breath"},
		{3, "reaches 0.100 s into the next event, which has the other breath"},
		{4, "reaches 0.100 s into the next event, which has the other breath"},
		{5, "has no length"},
		{6, "reaches 0.600 s into the next event"},
		{8, "lies outside the section"},
	}
	if got := d.OddTimes(); !slices.Equal(got, want) {
		t.Errorf("%v\nwant\n%v", got, want)
	}
	if got := (Document{}).OddTimes(); got != nil {
		t.Errorf("of nothing: %v", got)
	}
}
