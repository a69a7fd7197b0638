// Command make renders the demo recording into demo.wav in the current folder.
// It runs by go generate in the demo package; the result is the same each time.
package main

import (
	"bytes"
	"log"
	"os"

	"blowdraw/cmd/blowdraw/demo/internal/scene"
	"blowdraw/decode"
)

func main() {
	log.SetFlags(0)
	var wav bytes.Buffer
	if err := decode.WriteWAV(&wav, scene.Clip()); err != nil {
		log.Fatalf("rendering the demo recording: %v", err)
	}
	if err := os.WriteFile("demo.wav", wav.Bytes(), 0o644); err != nil {
		log.Fatalf("writing the demo recording: %v", err)
	}
}
