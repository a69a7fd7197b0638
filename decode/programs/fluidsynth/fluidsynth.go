// Package fluidsynth plays scores with the program of that name (Debian package
// fluidsynth) and the sound banks of Debian packages, for tests and for what is fitted to
// sound that this project did not make.
package fluidsynth

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
)

// Rate is that of what is played, in Hz.
const Rate = 22050

// Sound banks of the Debian packages fluid-soundfont-gm, timgm6mb-soundfont and
// musescore-general-soundfont.
const (
	FluidBank = "/usr/share/sounds/sf2/FluidR3_GM.sf2"
	SmallBank = "/usr/share/sounds/sf2/TimGM6mb.sf2"
	MuseBank  = "/usr/share/sounds/sf3/MuseScore_General.sf3"
)

// PerBeat is how many ticks a beat has.
const PerBeat = 480

// Drums is the channel of General MIDI's drums, counted from 0.
const Drums = 9

// Score is a MIDI file in the making: messages by tick.
type Score struct{ Events []Event }

// Event is a MIDI message at a tick.
type Event struct {
	Tick int
	Data []byte
}

// Program is the message that puts a channel on a program, both counted from 0, at the
// start.
func Program(channel, program int) Event {
	return Event{0, []byte{0xc0 | byte(channel), byte(program)}}
}

// Note sounds a key from a beat on for some beats.
func (s *Score) Note(channel, key int, beat, length float64, velocity int) {
	at := func(b float64, data ...byte) {
		s.Events = append(s.Events, Event{int(b*PerBeat + 0.5), data})
	}
	at(beat, 0x90|byte(channel), byte(key), byte(velocity))
	at(beat+length, 0x80|byte(channel), byte(key), 0)
}

// File is a Standard MIDI File, format 0, at the tempo (MIDI 1.0 specification).
func (s Score) File(bpm float64) []byte {
	byTick := func(a, b Event) int { return cmp.Compare(a.Tick, b.Tick) }
	events := slices.SortedStableFunc(slices.Values(s.Events), byTick)
	perQuarter := int(60e6/bpm + 0.5)
	track := []byte{0, 0xff, 0x51, 3, byte(perQuarter >> 16), byte(perQuarter >> 8), byte(perQuarter)}
	last := 0
	for _, e := range events {
		for _, shift := range []int{14, 7} {
			if d := e.Tick - last; d>>shift > 0 {
				track = append(track, byte(d>>shift)|0x80)
			}
		}
		track = append(append(track, byte((e.Tick-last)&0x7f)), e.Data...)
		last = e.Tick
	}
	track = append(track, 0, 0xff, 0x2f, 0)
	b := new(bytes.Buffer)
	b.WriteString("MThd")
	b.Write(binary.BigEndian.AppendUint32(nil, 6))
	for _, v := range []uint16{0, 1, PerBeat} {
		b.Write(binary.BigEndian.AppendUint16(nil, v))
	}
	b.WriteString("MTrk")
	b.Write(binary.BigEndian.AppendUint32(nil, uint32(len(track))))
	b.Write(track)
	return b.Bytes()
}

// Sound is how a score is to sound.
type Sound struct {
	Bank   string
	Reverb bool
	Gain   float64 // of the program's own; its default is 0.2
}

// ErrMissing is the error of a program or a sound bank that is not installed.
var ErrMissing = errors.New("install the Debian packages fluidsynth, fluid-soundfont-gm, " +
	"timgm6mb-soundfont and musescore-general-soundfont")

// Play plays a score at a tempo: samples at [Rate], left and right together.
func (s Score) Play(bpm float64, how Sound) ([]float64, error) {
	_, missing := exec.LookPath("fluidsynth")
	if _, err := os.Stat(how.Bank); err != nil || missing != nil {
		return nil, ErrMissing
	}
	dir, err := os.MkdirTemp("", "fluidsynth")
	if err != nil {
		return nil, fmt.Errorf("playing a score: %w", err)
	}
	defer os.RemoveAll(dir)
	mid, raw := filepath.Join(dir, "score.mid"), filepath.Join(dir, "score.raw")
	if err := os.WriteFile(mid, s.File(bpm), 0o600); err != nil {
		return nil, fmt.Errorf("playing a score: %w", err)
	}
	reverb := "0"
	if how.Reverb {
		reverb = "1"
	}
	out, err := exec.Command("fluidsynth", "-ni", "-q", "-R", reverb, "-C", "0",
		"-g", strconv.FormatFloat(how.Gain, 'g', -1, 64), "-r", strconv.Itoa(Rate),
		"-O", "s16", "-T", "raw", "-F", raw, how.Bank, mid).CombinedOutput()
	if err != nil {
		return nil, fmt.Errorf("playing a score with fluidsynth: %w\n%s", err, out)
	}
	data, err := os.ReadFile(raw)
	if err != nil {
		return nil, fmt.Errorf("reading what fluidsynth played: %w", err)
	}
	return mixed(data), nil
}

// mixed are samples of 16 bits, left and right together, of stereo ones.
func mixed(data []byte) []float64 {
	x := make([]float64, len(data)/4)
	for i := range x {
		left := int16(binary.LittleEndian.Uint16(data[4*i:]))
		right := int16(binary.LittleEndian.Uint16(data[4*i+2:]))
		x[i] = (float64(left) + float64(right)) / 65536
	}
	return x
}

// Check fails a test for an error. For [ErrMissing] it skips it instead, unless CI is set
// in the environment.
func Check(t testing.TB, err error) {
	t.Helper()
	if errors.Is(err, ErrMissing) && os.Getenv("CI") == "" {
		t.Skip(err)
	}
	if err != nil {
		t.Fatal(err)
	}
}
