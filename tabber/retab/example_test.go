package retab_test

import (
	"fmt"
	"strings"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/retab"
	"blowdraw/tabber/tab"
)

// line is what is played in a document.
func line(d tab.Document) string {
	var words []string
	for _, e := range d.Events {
		words = append(words, d.EventToken(e))
	}
	return strings.Join(words, " ")
}

const phrase = "blowdraw tab 1\nharp: C\nsong: G\n" +
	"0:01 0.4 -2\n0:01.5 0.4 -3'\n0:02 0.4 4\n0:02.5 0.4 -4\n0:03 0.9 [-4 -5]\n"

// The same notes on a D harp: the song stays in G, which is that harp's twelfth position.
// What it does not have stands as notes and is flagged, with the nearest that it has.
func ExampleMusic() {
	d, err := tab.Parse(strings.NewReader(phrase))
	if err != nil {
		fmt.Println(err)
		return
	}
	other, err := harp.Parse("D", d.Harp.Layout)
	if err != nil {
		fmt.Println(err)
		return
	}
	moved, flags := retab.Music(d, other, d.SongKey, false)
	fmt.Println(line(d))
	fmt.Println(line(moved))
	for _, f := range flags {
		fmt.Println(moved.EventToken(moved.Events[f.Event]), "is not to be had; nearest",
			tab.Token(f.Nearest))
	}
	fmt.Println(moved.Notes[0])
	// Output:
	// -2 -3' 4 -4 [-4 -5]
	// -2'' -3''' -3' 4 {D5 F5}
	// {D5 F5} is not to be had; nearest -4
	// The music of a tab for a C harp in G, at the same pitch.
}

// The same holes on an A harp: a student who owns only that plays along by the same tab,
// and it sounds three semitones lower.
func ExampleHoles() {
	d, err := tab.Parse(strings.NewReader(phrase))
	if err != nil {
		fmt.Println(err)
		return
	}
	a, err := harp.Parse("A", d.Harp.Layout)
	if err != nil {
		fmt.Println(err)
		return
	}
	moved, flags := retab.Holes(d, a)
	fmt.Println(line(moved), len(flags))
	fmt.Println("in", moved.Harp.KeyName(moved.SongKey)+",", harp.PositionName(moved.HarpPosition()),
		"position")
	fmt.Println(moved.Notes[0])
	// Output:
	// -2 -3' 4 -4 [-4 -5] 0
	// in E, second position
	// The holes of a tab for a C harp in G, 3 semitones lower.
}
