package whichharp_test

import (
	"fmt"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/whichharp"
)

// The blow reeds of holes 1 to 3 as they were heard, in cents from equal temperament: the
// major third is 14 cents flat of it against the other two, as in just intonation (5/4 is
// 386 cents, the fifth 702; Helmholtz, from memory). That all are 5 cents sharp is the
// recording's tuning.
func ExampleSchemes() {
	layout, err := harp.ParseLayout("richter")
	if err != nil {
		fmt.Println(err)
		return
	}
	c, err := harp.Parse("C", layout)
	if err != nil {
		fmt.Println(err)
		return
	}
	reeds := []whichharp.Reed{
		{Action: harp.Action{Breath: harp.Blow, Hole: 1}, Cents: 5, Seconds: 1},
		{Action: harp.Action{Breath: harp.Blow, Hole: 2}, Cents: -9, Seconds: 1},
		{Action: harp.Action{Breath: harp.Blow, Hole: 3}, Cents: 7, Seconds: 1},
	}
	for _, s := range whichharp.Schemes(c, reeds) {
		fmt.Printf("%s: %.1f cents off on average\n", s.Temperament.Name, s.Off)
	}
	// Output:
	// just: 0.1 cents off on average
	// compromise: 2.7 cents off on average
	// equal: 5.3 cents off on average
}
