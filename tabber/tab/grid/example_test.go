package grid_test

import (
	"fmt"
	"strings"

	"blowdraw/tabber/tab"
	"blowdraw/tabber/tab/grid"
)

// A swung line at 60 beats a minute, played a little off: on the grid the second note of
// each pair lies two thirds into its beat. A beat is 24 units.
func ExampleGrid_Spans() {
	d, err := tab.Parse(strings.NewReader("blowdraw tab 1\nharp: C\nsong: G\ntempo: 60 bpm\n" +
		"0:01.00 0.66 -2\n0:01.68 0.30 -3'\n0:02.01 0.65 4\n0:02.66 0.33 -4\n0:03.00 1.00 -2\n"))
	if err != nil {
		fmt.Println(err)
		return
	}
	g := grid.Of(d)
	for _, s := range g.Spans(d) {
		fmt.Printf("%-4s %2d to %2d\n", tab.Token(d.Events[s.Event].Actions), s.From, s.To)
	}
	// Output:
	// -2    0 to 16
	// -3'  16 to 24
	// 4    24 to 40
	// -4   40 to 48
	// -2   48 to 72
}
