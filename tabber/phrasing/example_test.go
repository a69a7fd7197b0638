package phrasing_test

import (
	"fmt"
	"strings"

	"blowdraw/tabber/phrasing"
	"blowdraw/tabber/tab"
)

const answered = `blowdraw tab 1
section: 0:00 to 0:10
harp: C
song: G
tempo: 60 bpm
Phrase 1 0:01 to 0:03.5
0:01.0 0.5 -2
0:01.5 0.5 -3'
0:02.0 0.5 4
0:02.5 0.5 -4
0:03.0 0.5 -5
Phrase 2 0:06 to 0:08.5
0:06.0 0.5 -2
0:06.5 0.5 -3'
0:07.0 0.5 4
0:07.5 0.5 -4
0:08.0 0.5 -5
`

func parsed(text string) tab.Document {
	d, err := tab.Parse(strings.NewReader(text))
	if err != nil {
		panic(err)
	}
	return d
}

// How long phrases are, how much room is left after each, and from where to where on the
// harp they go.
func ExampleOf() {
	for _, p := range phrasing.Of(parsed(answered)) {
		fmt.Printf("%.1f s, then %.1f s of space; %d events, %s to %s, %d semitones\n",
			p.End-p.Start, p.Space, p.Events, tab.Token(p.Lowest), tab.Token(p.Highest), p.Semitones)
	}
	// Output:
	// 2.5 s, then 2.5 s of space; 5 events, -2 to -5, 10 semitones
	// 2.5 s, then 1.5 s of space; 5 events, -2 to -5, 10 semitones
}

// The second phrase is the first again.
func ExampleRecurring() {
	d := parsed(answered)
	for _, m := range phrasing.Recurring(d) {
		for _, t := range m.Times {
			first, last := d.Events[t[0]], d.Events[t[1]-1]
			fmt.Println(tab.Clock(first.Start), tab.Token(first.Actions), "to", tab.Token(last.Actions))
		}
		fmt.Println("same holes:", m.SameHoles)
	}
	// Output:
	// 0:01.000 -2 to -5
	// 0:06.000 -2 to -5
	// same holes: true
}

// The picture in characters: without bars a box is two seconds.
func ExampleStrip() {
	fmt.Print(phrasing.Strip(parsed(answered), 0))
	// Output:
	// 0:00         0:02         0:04         0:06
	// |······█▄▄█▄▄|█▄▄█▄▄█▄▄···|············|█▄▄█▄▄█▄▄█▄▄|
	//
	//  0:08
	// |█▄▄·········|
	//
	// █ a note begins   ▄ it sounds   · space
}
