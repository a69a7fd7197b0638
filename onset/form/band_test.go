package form

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

const (
	rate      = 22050
	soundFont = "/usr/share/sounds/sf2/FluidR3_GM.sf2" // Debian package fluid-soundfont-gm
	perBeat   = 480                                    // ticks
)

// score is a MIDI file in the making: messages by tick.
type score struct{ events []event }

type event struct {
	tick int
	data []byte
}

// note sounds a key from a beat on for some beats; channel 9 is drums.
func (s *score) note(channel, key int, beat, length float64, velocity int) {
	at := func(b float64, data ...byte) {
		s.events = append(s.events, event{int(b*perBeat + 0.5), data})
	}
	at(beat, 0x90|byte(channel), byte(key), byte(velocity))
	at(beat+length, 0x80|byte(channel), byte(key), 0)
}

// file is a Standard MIDI File, format 0, at the tempo (MIDI 1.0 specification).
func (s *score) file(bpm float64) []byte {
	slices.SortStableFunc(s.events, func(a, b event) int { return a.tick - b.tick })
	perQuarter := int(60e6/bpm + 0.5)
	track := []byte{0, 0xff, 0x51, 3, byte(perQuarter >> 16), byte(perQuarter >> 8), byte(perQuarter)}
	last := 0
	for _, e := range s.events {
		for _, shift := range []int{14, 7} {
			if d := e.tick - last; d>>shift > 0 {
				track = append(track, byte(d>>shift)|0x80)
			}
		}
		track = append(append(track, byte((e.tick-last)&0x7f)), e.data...)
		last = e.tick
	}
	track = append(track, 0, 0xff, 0x2f, 0)
	b := new(bytes.Buffer)
	b.WriteString("MThd")
	binary.Write(b, binary.BigEndian, uint32(6))
	binary.Write(b, binary.BigEndian, [3]uint16{0, 1, perBeat})
	b.WriteString("MTrk")
	binary.Write(b, binary.BigEndian, uint32(len(track)))
	b.Write(track)
	return b.Bytes()
}

// band is how an accompaniment plays.
type band struct {
	name                string
	bass, chords, drums string
	bpm, swing          float64
	key                 int
}

// accompany writes the form's bars from first on, m beats each, after lead beats
// of the bar before.
func (b band) accompany(degrees []int, first, bars, m int, lead float64) *score {
	s := &score{}
	s.events = append(s.events, event{0, []byte{0xc0, 32}}, event{0, []byte{0xc1, 25}})
	for i := -1; i < bars; i++ {
		root := (b.key + degrees[(first-1+i+len(degrees))%len(degrees)]) % 12
		for beat := range m {
			at := float64(i*m+beat) + lead
			if at < 0 {
				continue
			}
			b.beat(s, root, beat, m, at)
		}
	}
	return s
}

// beat plays one beat of a bar.
func (b band) beat(s *score, root, beat, m int, at float64) {
	low, mid := 36+root-12*(root/8), 48+root
	switch {
	case b.bass == "walk":
		s.note(0, low+[]int{0, 4, 7, 9}[beat], at, 0.9, 100)
	case b.bass == "two" && beat%2 == 0:
		s.note(0, low+[]int{0, 0, 7, 7}[beat], at, 1.8, 100)
	case b.bass == "one" && beat == 0:
		s.note(0, low, at, float64(m), 100)
	}
	chord := []int{mid + 4, mid + 7, mid + 10}
	for _, k := range chord {
		switch {
		case b.chords == "stabs" && (beat%2 == 1 || m == 3 && beat > 0):
			s.note(1, k, at, 0.4, 80)
		case b.chords == "held" && beat == 0:
			s.note(1, k, at, float64(m)-0.2, 80)
		}
	}
	if b.drums == "" {
		return
	}
	s.note(9, 42, at, 0.1, 70)
	if m == 4 {
		s.note(9, 42, at+b.swing, 0.1, 50)
	}
	if beat%2 == 0 && m == 4 || beat == 0 {
		s.note(9, 36, at, 0.1, 110)
	} else {
		s.note(9, 38, at, 0.1, 100)
	}
}

// render plays a score with the program fluidsynth (Debian package fluidsynth).
func render(t *testing.T, s *score, bpm float64) []float64 {
	t.Helper()
	_, missing := exec.LookPath("fluidsynth")
	if _, err := os.Stat(soundFont); errors.Is(err, fs.ErrNotExist) || missing != nil {
		const say = "install the Debian packages fluidsynth and fluid-soundfont-gm"
		if os.Getenv("CI") != "" {
			t.Fatal(say)
		}
		t.Skip(say)
	}
	dir := t.TempDir()
	mid, raw := filepath.Join(dir, "band.mid"), filepath.Join(dir, "band.raw")
	if err := os.WriteFile(mid, s.file(bpm), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-r", "22050", "-O", "s16", "-T", "raw", "-F", raw, soundFont, mid).CombinedOutput()
	if err != nil {
		t.Fatalf("fluidsynth: %v\n%s", err, out)
	}
	return mixed(t, raw)
}

// mixed are the samples of a file of stereo ones in 16 bits, left and right together.
func mixed(t *testing.T, path string) []float64 {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	x := make([]float64, len(data)/4)
	for i := range x {
		left, right := int16(binary.LittleEndian.Uint16(data[4*i:])), int16(binary.LittleEndian.Uint16(data[4*i+2:]))
		x[i] = (float64(left) + float64(right)) / 65536
	}
	return x
}

// semitones over the tonic of the chords of a form written as degrees.
func degrees(t *testing.T, chords string) []int {
	t.Helper()
	var out []int
	for _, c := range strings.Fields(chords) {
		r, ok := map[string]int{"I": 0, "IV": 5, "V": 7}[c]
		if !ok {
			t.Fatal(c)
		}
		out = append(out, r)
	}
	return out
}
