package clips

import (
	"bytes"
	"encoding/binary"
	"os"
	"strings"
	"testing"
)

// General MIDI calls program 23, counted from 1, Harmonica (General MIDI 1 sound
// set, MIDI Manufacturers Association). The bank's own list of presets, the phdr
// chunk of a SoundFont 2 file (SoundFont Technical Specification 2.04, section
// 7.2), has to have that name at the number that the clips are played with.
func TestProgramIsHarmonica(t *testing.T) {
	file, err := os.ReadFile(BankPath)
	installed(t, err)
	at := bytes.Index(file, []byte("phdr"))
	if at < 0 {
		t.Fatalf("%s has no list of presets", BankPath)
	}
	const record = 38
	size := int(binary.LittleEndian.Uint32(file[at+4:]))
	list := file[at+8 : at+8+size]
	for i := 0; i+record <= len(list); i += record {
		name := string(bytes.TrimRight(list[i:i+20], "\x00"))
		number := binary.LittleEndian.Uint16(list[i+20:])
		bank := binary.LittleEndian.Uint16(list[i+22:])
		if bank == 0 && int(number) == program && !strings.HasPrefix(name, "EOP") {
			if !strings.Contains(strings.ToLower(name), "harmonica") {
				t.Errorf("preset %d is %q, want a harmonica", program, name)
			}
			return
		}
	}
	t.Errorf("no preset %d in bank 0", program)
}
