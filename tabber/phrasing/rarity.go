package phrasing

import (
	"math"

	"blowdraw/tabber/tab"
)

// Rarity numbers what each event of a document plays, the same notes the same number, and
// tells the natural log odds that it repeats an event of the same number rather than being
// like it by chance: the rarer its notes, and the step to them, the more. See [Recurring].
// With octaves notes are the same in the same octave only.
func Rarity(d tab.Document, octaves bool) (symbols []int, odds []float64) {
	l := newLikeness(d, phrasesOf(d), octaves, false)
	return l.symbols, l.rare
}

// ByChance is the chance that two stretches of a document that were laid side by side, and
// not looked for, are alike by as much as the sum of their log odds says.
func ByChance(odds float64) float64 { return min(1, math.Exp(-decay*odds)) }
