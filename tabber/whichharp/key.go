package whichharp

import (
	"math"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// Key is the key of the song as it is heard.
type Key struct {
	PitchClass  int     // 0 is C
	Probability float64 // 0 if nothing tells
}

// likelyKey is the probability from which the key of a song that is heard is taken rather than
// the usual one for the harp: of the bench's 24 clips that have as much it was right on 23, of
// all 26 on 24, while second position is right on 14.
const likelyKey = 0.4

// leastKeyNotes is how many events tell a key at least; fewer say no more than that second position
// is the most usual.
const leastKeyNotes = 8

// Likely reports whether a heard key is to be taken.
func (k Key) Likely() bool { return k.Probability >= likelyKey }

// OrUsual is the pitch class of a likely key, else of the usual one for a harp.
func (k Key) OrUsual(h harp.Harp) int {
	if k.Likely() {
		return k.PitchClass
	}
	return usualKey(h)
}

// KeyOf is the key of the song by what is played on a harp: the notes, and how long they are
// held. Events sound so many cents off A4 = 440 Hz.
func KeyOf(h harp.Harp, events []tab.Event, cents float64) Key {
	if len(events) < leastKeyNotes {
		return Key{PitchClass: usualKey(h)}
	}
	p := PositionsOf(h, events, cents)[0]
	return Key{harp.SongKey(h.Key(), p.Number), p.Probability}
}

// usualKey is the key of the song that a harp is most played in: second position.
func usualKey(h harp.Harp) int { return harp.SongKey(h.Key(), 2) }

// KeyWithBand is [KeyOf] that heeds the band as well: odds are the log odds that its chords give
// each pitch class as the key of the song.
func KeyWithBand(h harp.Harp, events []tab.Event, cents float64, odds [12]float64) Key {
	if len(events) < leastKeyNotes {
		return KeyOf(h, events, cents)
	}
	best, sum := Key{}, 0.0
	for _, p := range PositionsOf(h, events, cents) {
		k := Key{harp.SongKey(h.Key(), p.Number), p.Probability}
		k.Probability *= math.Exp(odds[k.PitchClass])
		sum += k.Probability
		if k.Probability > best.Probability {
			best = k
		}
	}
	best.Probability /= sum
	return best
}
