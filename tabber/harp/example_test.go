package harp_test

import (
	"fmt"
	"strings"

	"blowdraw/tabber/harp"
)

// Draw 3 of a D harp and its three bends, in second position: the song is in A.
func ExampleHarp_MIDI() {
	richter, err := harp.ParseLayout("richter")
	if err != nil {
		fmt.Println(err)
		return
	}
	h, err := harp.Parse("D", richter)
	if err != nil {
		fmt.Println(err)
		return
	}
	song := harp.SongKey(h.Key(), 2)
	for bend := 0; bend <= h.MaxBend(harp.Draw, 3); bend++ {
		midi := h.MIDI(harp.Action{Breath: harp.Draw, Hole: 3, Bend: bend})
		fmt.Println(bend, midi, h.NoteName(midi, song), harp.Degree(midi, song))
	}
	// Output:
	// 0 73 C#5 3
	// 1 72 C5 b3
	// 2 71 B4 2
	// 3 70 Bb4 b2
}

// Where a song in G is played on the harps that a player may carry.
func ExamplePosition() {
	song, err := harp.ParseKey("G")
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, key := range []string{"G", "C", "F", "Bb"} {
		harpKey, err := harp.ParseKey(key)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Println(key, harp.PositionName(harp.Position(harpKey, song)))
	}
	// Output:
	// G first
	// C second
	// F third
	// Bb fourth
}

// A tuning of one's own is two rows of notes. Everything else follows from them: with
// draw 5 a semitone up hole 5 bends.
func ExampleReadLayout() {
	own, err := harp.ReadLayout(strings.NewReader("name: mine\n" +
		"blow: C4 E G C E G C E G C\n" +
		"draw: D G B D F# A B D F A\n"))
	if err != nil {
		fmt.Println(err)
		return
	}
	h, err := harp.Parse("C", own)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(own.Name, own.Holes(), "holes")
	fmt.Println("draw 5 bends by", h.MaxBend(harp.Draw, 5))
	fmt.Println("notes that are MIDI 66:", h.At(66, false))
	// Output:
	// mine 10 holes
	// draw 5 bends by 1
	// notes that are MIDI 66: [{draw 2 1}]
}
