package clips

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"math"
	"slices"
)

// message is one MIDI message at a tick of half a millisecond.
type message struct {
	tick int
	data []byte
}

const (
	ticksPerSecond = 2000
	program        = 22    // counted from 0: General MIDI program 23, Harmonica
	bendRange      = 12    // semitones each way
	velocity       = 100   // of every note; loudness is set afterwards
	controlStep    = 0.001 // s between pitch-bend values
	space          = 0.25  // s between the notes of a score
)

// smf writes a Standard MIDI File, format 0 (MIDI 1.0 specification, "Standard
// MIDI Files 1.0"): 1000 ticks to a quarter of half a second.
func smf(messages []message) []byte {
	slices.SortStableFunc(messages, func(a, b message) int { return cmp.Compare(a.tick, b.tick) })
	var track bytes.Buffer
	last := 0
	put := func(tick int, data []byte) {
		track.Write(variableLength(tick - last))
		track.Write(data)
		last = tick
	}
	put(0, []byte{0xff, 0x51, 3, 0x07, 0xa1, 0x20}) // tempo: 500,000 µs
	for _, m := range messages {
		put(m.tick, m.data)
	}
	put(last+ticksPerSecond/2, []byte{0xff, 0x2f, 0}) // end of track
	var file bytes.Buffer
	file.WriteString("MThd")
	binary.Write(&file, binary.BigEndian, uint32(6))
	binary.Write(&file, binary.BigEndian, [3]uint16{0, 1, ticksPerSecond / 2})
	file.WriteString("MTrk")
	binary.Write(&file, binary.BigEndian, uint32(track.Len()))
	file.Write(track.Bytes())
	return file.Bytes()
}

// variableLength is a delta time: seven bits a byte, high bit on all but the
// last.
func variableLength(n int) []byte {
	out := []byte{byte(n & 0x7f)}
	for n >>= 7; n > 0; n >>= 7 {
		out = append([]byte{byte(n&0x7f) | 0x80}, out...)
	}
	return out
}

// setUp puts the channel on the harmonica, with full volume and the wide
// pitch-bend range (registered parameter 0).
func setUp() []message {
	m := []message{{0, []byte{0xc0, program}}}
	for _, c := range [][2]byte{{7, 127}, {11, 127}, {101, 0}, {100, 0}, {6, bendRange}, {38, 0}} {
		m = append(m, message{0, []byte{0xb0, c[0], c[1]}})
	}
	return m
}

// tick is the tick at t seconds.
func tick(t float64) int { return int(math.Round(t * ticksPerSecond)) }

// strike sounds a key from t for length seconds.
func strike(key int, t, length float64) []message {
	return []message{
		{tick(t), []byte{0x90, byte(key), velocity}},
		{tick(t + length), []byte{0x80, byte(key), 0}},
	}
}

// bend sets the pitch bend at t to an interval in semitones, in 14 bits.
func bend(t, semitones float64) message {
	v := min(max(int(math.Round(8192*(1+semitones/bendRange))), 0), 16383)
	return message{tick(t), []byte{0xe0, byte(v & 0x7f), byte(v >> 7)}}
}

// score lays the notes out one after the other, so that each can bend by
// itself, at full level. at[i] is where in the score note i begins, in seconds.
func score(notes []take) (messages []message, at []float64) {
	messages = setUp()
	t := space
	for _, n := range notes {
		at = append(at, t)
		for d := 0.0; d < n.length; d += controlStep {
			messages = append(messages, bend(t+d, n.Pitch(n.begin+d)-float64(n.key)-n.sound.cents/100))
		}
		messages = append(messages, strike(n.key, t, n.length)...)
		t += n.length + space
	}
	return messages, at
}
