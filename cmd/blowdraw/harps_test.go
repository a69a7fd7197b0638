package main

import (
	"testing"

	"blowdraw/tabber/whichharp"
)

func TestHarpsTrouble(t *testing.T) {
	dir := t.TempDir()
	quiet := put(t, dir, "quiet.wav", wavOf(t, make([]float64, 44100)))
	for _, c := range []struct {
		args []string
		code int
		say  string
	}{
		{[]string{quiet}, 1, "no notes"},
		{[]string{quiet, "--section"}, 1, "no notes"},
		{[]string{quiet, "--section=1"}, 2, "--section"},
		{[]string{quiet, "--song-key", "H"}, 2, "--song-key"},
		{[]string{quiet, "--layout", "spiral"}, 2, "spiral"},
		{[]string{dir + "/none.wav"}, 1, "no such file"},
		{nil, 2, "one recording"},
	} {
		code, out, trouble := command(append([]string{"harps"}, c.args...)...)
		checkTrouble(t, code, out, trouble, c.code, c.say)
	}
}

func TestPositionText(t *testing.T) {
	for want, p := range map[string][]whichharp.Position{
		"second":                {{Number: 2, Probability: 0.95}, {Number: 1, Probability: 0.05}},
		"third (60%), or first": {{Number: 3, Probability: 0.6}, {Number: 1, Probability: 0.4}},
		"fourth":                {{Number: 4, Probability: 1}},
	} {
		if got := positionText(p); got != want {
			t.Errorf("%v: %q, want %q", p, got, want)
		}
	}
}
