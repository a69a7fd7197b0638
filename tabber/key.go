package tabber

import (
	"math"

	"blowdraw/onset/form"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
	"blowdraw/tabber/whichharp"
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

// or is the pitch class of a likely key, else another.
func (k Key) or(other int) *int {
	if k.Likely() {
		other = k.PitchClass
	}
	return &other
}

// KeyOf is the key of the song by what is played on a harp: the notes, and how long they are
// held. Events sound so many cents off A4 = 440 Hz.
func KeyOf(h harp.Harp, events []tab.Event, cents float64) Key {
	if len(events) < leastKeyNotes {
		return Key{PitchClass: usualKey(h)}
	}
	p := whichharp.PositionsOf(h, events, cents)[0]
	return Key{harp.SongKey(h.Key(), p.Number), p.Probability}
}

// usualKey is the key of the song that a harp is most played in: second position.
func usualKey(h harp.Harp) int { return harp.SongKey(h.Key(), 2) }

// keyWithBand is the key of the song by what is played and by the band's chords, which fit some
// form of the blues in it best, in the bars of a result.
func (b *beats) keyWithBand(h harp.Harp, r Result, notes []form.Note) Key {
	odds, ok := form.KeyEvidence(b.band, r.Bars, notes, form.Forms())
	if !ok || len(r.Events) < leastKeyNotes {
		return KeyOf(h, r.Events, r.TuningCents)
	}
	best, sum := Key{}, 0.0
	for _, p := range whichharp.PositionsOf(h, r.Events, r.TuningCents) {
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
