// Package harptest makes harps for tests.
package harptest

import (
	"testing"

	"blowdraw/tabber/harp"
)

// Of is the harp of a key and a layout, by their names; the test fails if there is none.
func Of(t testing.TB, key, layout string) harp.Harp {
	t.Helper()
	l, err := harp.ParseLayout(layout)
	if err != nil {
		t.Fatal(err)
	}
	h, err := harp.Parse(key, l)
	if err != nil {
		t.Fatal(err)
	}
	return h
}
