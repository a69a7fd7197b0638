package compare_test

import (
	"fmt"
	"strings"

	"blowdraw/tabber/compare"
	"blowdraw/tabber/tab"
)

func parsed(events string) tab.Document {
	d, err := tab.Parse(strings.NewReader("blowdraw tab 1\nharp: C\nsong: G\n" + events))
	if err != nil {
		panic(err)
	}
	return d
}

// A student plays a teacher's phrase: one note is late, one is another, one is missing.
func ExampleDifference() {
	teacher := parsed("0:01 0.4 -2\n0:01.5 0.4 -3'\n0:02 0.4 4\n0:02.5 0.4 -4\n")
	student := parsed("0:01 0.4 -2\n0:01.5 0.4 -3''\n0:02.08 0.4 4\n")
	c := compare.Difference(teacher, student, 0, 0.05)
	for _, p := range c.Pairs {
		e := teacher.Events[p.A]
		switch {
		case p.B < 0:
			fmt.Println(tab.Token(e.Actions), "is missing")
		case !p.Same:
			fmt.Println(tab.Token(e.Actions), "became", tab.Token(student.Events[p.B].Actions))
		default:
			fmt.Printf("%s is %.0f ms late\n", tab.Token(e.Actions), 1000*p.Late)
		}
	}
	fmt.Printf("%d of %d holes right\n", c.Holes.Matched, c.Holes.Ref)
	// Output:
	// -2 is 0 ms late
	// -3' became -3''
	// 4 is 80 ms late
	// -4 is missing
	// 1 of 4 holes right
}

// Two notes of three are right when only starts and pitches count. Where ends count as
// well the second, which is held twice as long, is wrong too.
func ExampleNotes() {
	truth := []compare.Note{{Onset: 1, Offset: 1.4, Pitch: 67}, {Onset: 1.5, Offset: 1.9, Pitch: 70},
		{Onset: 2, Offset: 2.4, Pitch: 72}}
	heard := []compare.Note{{Onset: 1.02, Offset: 1.38, Pitch: 67.2}, {Onset: 1.5, Offset: 2.3, Pitch: 70},
		{Onset: 2, Offset: 2.4, Pitch: 74}}
	for _, c := range []compare.Criteria{compare.NoOffset, compare.WithOffset} {
		r := compare.Notes(truth, heard, c)
		fmt.Printf("%d of %d, F1 %.2f\n", r.Matched, r.Ref, r.F)
	}
	// Output:
	// 2 of 3, F1 0.67
	// 1 of 3, F1 0.33
}
