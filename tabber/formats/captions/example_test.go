package captions_test

import (
	"fmt"
	"os"
	"strings"

	"blowdraw/tabber/formats/captions"
	"blowdraw/tabber/tab"
)

// The section of the recording begins ten seconds into the lesson's video.
func ExampleWriteVTT() {
	d, err := tab.Parse(strings.NewReader("blowdraw tab 1\nharp: C\nsong: G\n" +
		"Phrase 1 0:01 to 0:02.4\n0:01 0.4 -2\n0:01.5 0.4 -3'\n0:02 0.4 [-4 -5] ?\n" +
		"Phrase 2 0:05 to 0:06\n0:05 1.0 4\n"))
	if err != nil {
		fmt.Println(err)
		return
	}
	if err := captions.WriteVTT(os.Stdout, d, captions.Options{Offset: 10}); err != nil {
		fmt.Println(err)
	}
	// Output:
	// WEBVTT
	//
	// 1
	// 00:00:11.000 --> 00:00:12.900
	// -2 -3' [-4 -5]?
	//
	// 2
	// 00:00:15.000 --> 00:00:16.500
	// 4
}
