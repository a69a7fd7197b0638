package clips

import (
	"math/rand/v2"
)

// General MIDI programs, counted from 0 (General MIDI System Level 1).
var (
	basses    = []int{32, 33, 34, 35}
	chordal   = []int{0, 1, 3, 4, 16, 17, 18, 24, 25, 26, 27}
	saxes     = []int{64, 65, 66, 67}
	leadGuits = []int{26, 27, 28, 29, 30}
	organs    = []int{16, 17, 18}
	horns     = []int{56, 57, 59, 71, 73}
	fiddles   = []int{40, 110}
)

// twelveBars are the roots of a twelve-bar form, semitones above the key
// (common practice, no source).
var twelveBars = [][]int{
	{0, 0, 0, 0, 5, 5, 0, 0, 7, 5, 0, 7},
	{0, 5, 0, 0, 5, 5, 0, 0, 7, 5, 0, 7},
	{0, 0, 0, 0, 5, 5, 0, 9, 2, 7, 0, 7},
}

const drums = 9 // MIDI channel 10

// combo is a rhythm section and its way to play.
type combo struct {
	key         int // pitch class
	beat        float64
	long        float64 // share of the first of two eighths
	bars        []int
	bass, piano int // programs
	busy        float64
}

func newCombo(rng *rand.Rand, key int) combo {
	c := combo{key: key, beat: 60 / (68 + 70*rng.Float64()), long: 0.5,
		bars: twelveBars[rng.IntN(len(twelveBars))],
		bass: pick(rng, basses), piano: pick(rng, chordal), busy: 0.3 + 0.6*rng.Float64()}
	if rng.IntN(3) > 0 {
		c.long = 0.6 + 0.08*rng.Float64()
	}
	return c
}

func pick[T any](rng *rand.Rand, of []T) T { return of[rng.IntN(len(of))] }

// rhythm plays bass and drums, and chords by themselves, for so many seconds.
func (c combo) rhythm(rng *rand.Rand, seconds float64) (low, chords []message) {
	low = append(channelSetUp(0, c.bass), channelSetUp(drums, 0)...)
	chords = channelSetUp(0, c.piano)
	third := 4
	if rng.IntN(4) == 0 {
		third = 3
	}
	voicing := 48 + rng.IntN(10)
	for bar := 0; float64(4*bar)*c.beat < seconds; bar++ {
		root := (c.key + c.bars[bar%len(c.bars)]) % 12
		tones := []int{0, third, 7, 10}
		for b := range 4 {
			t := float64(4*bar+b) * c.beat
			off := t + c.long*c.beat
			low = append(low, note(0, 31+(root+tones[(b+rng.IntN(2))%4]+5)%12, 85+rng.IntN(25), t, 0.85*c.beat)...)
			low = append(low, note(drums, []int{36, 38}[b%2], 80+rng.IntN(30), t, 0.1)...)
			for _, hat := range []float64{t, off} {
				low = append(low, note(drums, 42, 50+rng.IntN(35), hat, 0.1)...)
			}
			for _, at := range []float64{t, off} {
				if rng.Float64() > c.busy {
					continue
				}
				length := c.beat * (0.25 + 0.9*rng.Float64())
				for _, x := range tones[:3+rng.IntN(2)] {
					p := voicing + ((root+x-voicing)%12+12)%12
					chords = append(chords, note(0, p, 60+rng.IntN(40), at, length)...)
				}
			}
		}
	}
	return low, chords
}

// lead plays phrases on one instrument with scoops and vibrato.
func (c combo) lead(rng *rand.Rand, program int, seconds float64) []message {
	m := channelSetUp(0, program)
	lowest := 55 + rng.IntN(8)
	at, t := 4, 0.2*rng.Float64()
	for t < seconds-1 {
		for range 4 + rng.IntN(9) {
			at = min(max(at+rng.IntN(5)-2, 0), 13)
			length := c.beat * []float64{0.33, 0.5, 0.67, 1, 2}[rng.IntN(5)]
			if t+length > seconds-0.2 {
				return m
			}
			key := lowest + ((c.key-lowest)%12+12)%12 + 12*(at/7) + bluesScale[at%7]
			m = append(m, note(0, key, 85+rng.IntN(35), t, 0.95*length)...)
			m = append(m, shapeNote(rng, t, length)...)
			t += length
		}
		t += c.beat * (0.5 + 2*rng.Float64())
	}
	return m
}

// shapeNote bends into a note or shakes it, sometimes.
func shapeNote(rng *rand.Rand, t, length float64) []message {
	scoop, cents := 0.0, 0.0
	if rng.IntN(3) == 0 {
		scoop = 0.5 + 1.5*rng.Float64()
	}
	if length > 0.4 {
		cents = 15 + 35*rng.Float64()
	}
	var m []message
	glide := min(0.15, length/2)
	for d := 0.0; d < length; d += 0.01 {
		x := 0.0
		if d < glide {
			x = -scoop * (1 - d/glide)
		} else {
			x = cents / 100 * triangle(5.5*(d-glide))
		}
		m = append(m, bend(t+d, x))
	}
	return m
}

// triangle is a wave of period 1 between -1 and 1 that begins at 0.
func triangle(x float64) float64 {
	x -= float64(int(x))
	switch {
	case x < 0.25:
		return 4 * x
	case x < 0.75:
		return 2 - 4*x
	}
	return 4*x - 4
}

// channelSetUp puts a MIDI channel on a program as setUp does channel 0 on the
// harmonica.
func channelSetUp(channel, program int) []message {
	var out []message
	for _, m := range setUp() {
		d := append([]byte(nil), m.data...)
		d[0] |= byte(channel)
		if d[0]&0xf0 == 0xc0 {
			d[1] = byte(program)
		}
		out = append(out, message{m.tick, d})
	}
	return out
}

// note strikes a key of a channel.
func note(channel, key, velocity int, t, length float64) []message {
	return []message{
		{tick(t), []byte{0x90 | byte(channel), byte(key), byte(velocity)}},
		{tick(t + length), []byte{0x80 | byte(channel), byte(key), 0}},
	}
}
