package whichharp

import (
	"blowdraw/tabber/harp"
	"blowdraw/tabber/hearing"
	"blowdraw/tabber/tab"
)

// PositionsOf are the positions that what was heard on a harp may be in, likeliest first, by how
// much players use each note in them, long ones counting most. Events sound so many cents off
// A4 = 440 Hz. It does not listen.
func PositionsOf(h harp.Harp, events []tab.Event, cents float64) []Position {
	f := Fit{Harp: h, Events: events, Tuning: hearing.Tuning{Cents: cents}}
	_, positions := positionsOf(h, likes(f), AnyKey, fitted.Trust)
	return positions
}
