package main

import (
	"strings"
	"testing"

	"blowdraw/tabber/harp"
	"blowdraw/tabber/harp/harptest"
	"blowdraw/tabber/tab"
)

func TestWrongHarp(t *testing.T) {
	h := harptest.Of(t, "C", "richter")
	played := tab.Event{Actions: []harp.Action{{Breath: harp.Draw, Hole: 2}}}
	events := []tab.Event{played, played, played, played, played, played, {}}
	if w := wrongHarp(events, h); w != "" {
		t.Errorf("one stranger in seven: %q, want no warning", w)
	}
	if w := wrongHarp(append(events, tab.Event{}), h); !strings.HasPrefix(w,
		"2 of 8 notes are not on the C harp") {
		t.Errorf("two strangers in eight: %q", w)
	}
}
