package clips

import (
	"math"
	"math/rand/v2"

	"blowdraw/tabber/render/effect"
)

// Songs in stereo: bass and drums near the middle, chords anywhere, and the harp
// hard to a side, two thirds or a third of the way there, or in the middle, the
// less loud the farther out. Chords and harp stand in a room with two microphones,
// so that the reverberation of one channel does not tell the other's.

// place is where the harp sits in the i-th song, 0 the middle and 1 a side, and
// its level in dB against the rest in the mix.
func place(i int) (side, level float64) {
	return []float64{1, 0.6, 0.3, 0}[i%4], []float64{-6, -6, -3, 0}[i%4]
}

// spread puts the tracks of song i where they belong. In the mean of both channels
// the harp has the level HarpDB, reverberation left out.
func (s *Song) spread(rng *rand.Rand, st stems, chordGain, harpGain float64, i int) {
	either := func(v float64) float64 { return v * float64(2*rng.IntN(2)-1) }
	side, _ := place(i)
	n := len(st.harp)
	s.Left, s.Right = make([]float64, n), make([]float64, n)
	s.pot(st.low, 1, either(0.2*rng.Float64()))
	s.pot(st.chords, chordGain, either(rng.Float64()))
	s.pot(st.harp, harpGain, either(side))
	room := effect.Room{T60: 0.3 + rng.Float64(), PreDelay: 0.02}
	below := math.Pow(10, -(8+8*rng.Float64())/20)
	wet := make([]float64, n)
	mixIn(wet, st.chords, chordGain)
	mixIn(wet, st.harp, harpGain)
	for _, x := range [][]float64{s.Left, s.Right} {
		room.Seed = rng.Uint64()
		mixIn(x, tail(wet, room), below)
	}
}

// pot adds a track at a position from -1, left, to 1, right, with equal power
// wherever it is (common practice, no source), scaled so that the mean of both
// channels is the track times gain.
func (s *Song) pot(x []float64, gain, position float64) {
	right, left := math.Sincos((position + 1) * math.Pi / 4)
	mixIn(s.Left, x, gain*2*left/(left+right))
	mixIn(s.Right, x, gain*2*right/(left+right))
}

// tail is the reverberation of a sound without the sound itself, as loud as it.
func tail(x []float64, room effect.Room) []float64 {
	wet := effect.Reverb(x, Rate, room)
	// Reverb keeps the loudness, so what it did to the sound itself is the share
	// of x in it.
	xx, xw := 1e-12, 0.0
	for i, v := range x {
		xx += v * v
		xw += v * wet[i]
	}
	mixIn(wet, x, -xw/xx)
	gain := effect.RMS(x) / max(effect.RMS(wet), 1e-9)
	for i := range wet {
		wet[i] *= gain
	}
	return wet
}
