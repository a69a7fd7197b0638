package decode_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"

	"blowdraw/decode"
)

func ExampleParseTime() {
	seconds, err := decode.ParseTime("1:23.4")
	fmt.Println(seconds, err)
	fmt.Println(decode.Clock(3723))
	// Output:
	// 83.4 <nil>
	// 1:02:03.0
}

// A WAV file is written, and a section of it read at another rate.
func ExampleLoad() {
	dir, err := os.MkdirTemp("", "example")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	var wav bytes.Buffer
	if err := decode.WriteWAV(&wav, decode.Clip{Rate: 44100, Samples: make([]float64, 2*44100)}); err != nil {
		fmt.Println(err)
		return
	}
	path := filepath.Join(dir, "silence.wav")
	if err := os.WriteFile(path, wav.Bytes(), 0o600); err != nil {
		fmt.Println(err)
		return
	}
	clip, info, warnings, err := decode.Load(path, decode.Options{From: 0.5, To: 1.5, Rate: 22050})
	fmt.Println(info.Format, info.Rate, info.Duration, warnings, err)
	fmt.Println(clip.Start, clip.Rate, len(clip.Samples))
	// Output:
	// WAV 44100 2 [] <nil>
	// 0.5 22050 22050
}
