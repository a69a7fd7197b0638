package midi_test

import (
	"bytes"
	"fmt"
	"strings"

	"blowdraw/tabber/formats/midi"
	"blowdraw/tabber/tab"
)

// A tab that was given away as MIDI comes home: the tempo, the notes with their bends,
// and the tab that stands under them as lyrics.
func ExampleRead() {
	d, err := tab.Parse(strings.NewReader("blowdraw tab 1\nharp: C\nsong: G\ntempo: 90 bpm\n" +
		"0:01 0.5 -2\n0:01.667 0.3 -3''\n0:02.333 1 [-4 -5]\n"))
	if err != nil {
		fmt.Println(err)
		return
	}
	var file bytes.Buffer
	if err := midi.Write(&file, d); err != nil {
		fmt.Println(err)
		return
	}
	m, err := midi.Read(&file)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s, %.0f beats a minute\n", m.Parts[0].Name, m.BPM)
	for _, n := range m.Parts[0].Notes {
		fmt.Printf("%.2f s  MIDI %.0f  %s\n", n.Start, n.Pitch, n.Text)
	}
	// Output:
	// C harp, 90 beats a minute
	// 1.00 s  MIDI 67  -2
	// 1.67 s  MIDI 69  -3''
	// 2.33 s  MIDI 74  [-4 -5]
	// 2.33 s  MIDI 77  [-4 -5]
}
