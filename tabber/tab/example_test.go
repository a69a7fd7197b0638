package tab_test

import (
	"fmt"
	"os"
	"strings"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

const lick = `blowdraw tab 1
harp: C
song: G
0:01.000 0.500 -2
0:01.500 0.250 -3'
0:01.750 0.750 [-4 -5] ? 62%, or -4 25%
# and again
0:03.000 0.500 -2
`

// What a player has written by hand becomes events, each with its holes, its degrees
// and its doubt.
func ExampleParse() {
	d, err := tab.Parse(strings.NewReader(lick))
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, e := range d.Events {
		var degrees []string
		for _, midi := range d.Sounding(e) {
			degrees = append(degrees, harp.Degree(midi, d.SongKey))
		}
		fmt.Println(tab.Clock(e.Start), tab.Token(e.Actions), e.Texture, degrees, e.Doubtful())
	}
	// Output:
	// 0:01.000 -2 single [1] false
	// 0:01.500 -3' single [b3] false
	// 0:01.750 [-4 -5] double [5 b7] true
	// 0:03.000 -2 single [1] false
}

// Every mistake has its place, and what was understood comes back all the same.
func ExampleParse_mistakes() {
	d, err := tab.Parse(strings.NewReader("blowdraw tab 1\nharp: C\nsong: G\n0:01 0.5 -5'\n0:02 0.5 4\n"))
	fmt.Println(err)
	fmt.Println(len(d.Events), "event:", tab.Token(d.Events[0].Actions))
	// Output:
	// line 4, column 10: -5': draw 5 of this harp does not bend by a semitone
	// 1 event: 4
}

// Bars laid over a tab from its first note on: each event gets its place, and the tab is
// written in its usual columns.
func ExampleLayBars() {
	d, err := tab.Parse(strings.NewReader("blowdraw tab 1\nharp: C\nsong: G\ntempo: 120 bpm\n" +
		"0:01 0.5 -2\n0:02 0.25 -3'\n0:02.25 0.5 4\n0:03 1 -4\n"))
	if err != nil {
		fmt.Println(err)
		return
	}
	if d, err = tab.LayBars(d, 1, "4/4", nil); err != nil {
		fmt.Println(err)
		return
	}
	if err := tab.WriteText(os.Stdout, d); err != nil {
		fmt.Println(err)
	}
	// Output:
	// blowdraw tab 1
	//
	// harp:      C
	// layout:    richter
	// song:      G, second position
	// tuning:    0.0 cents
	// tempo:     120.0 bpm
	// meter:     4/4
	//
	//     time  length  bar      tab  degree
	//
	// bar 1  0:01.000
	// 0:01.000   0.500  1|1      -2   1
	// 0:02.000   0.250  1|3      -3'  b3
	// 0:02.250   0.500  1|3+1/2  4    4
	// bar 2  0:03.000
	// 0:03.000   1.000  2|1      -4   5
}
