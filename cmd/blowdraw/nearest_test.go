package main

import (
	"strings"
	"testing"
)

// "CA" to "ABC" takes 3 where no letter may be changed twice (worked out by hand, as are
// the others); kitten to sitting is the usual example.
func TestMistakes(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{
		{"", "", 0}, {"", "abc", 3}, {"abc", "", 3}, {"kitten", "sitting", 3}, {"ca", "abc", 3},
		{"hrap", "harp", 1}, {"hapr", "harp", 1}, {"harp", "harp", 0}, {"hap", "harp", 1}, {"über", "uber", 1},
	} {
		if got := mistakes(c.a, c.b); got != c.want {
			t.Errorf("%s to %s: %d, want %d", c.a, c.b, got, c.want)
		}
	}
}

// A wrong command or flag gets the nearest right one named, if one is near.
func TestNearest(t *testing.T) {
	for _, c := range []struct {
		args []string
		say  string // the end of the line
	}{
		{[]string{"chek"}, `unknown command "chek"; is check meant?`},
		{[]string{"trasncribe", "x.wav"}, "is transcribe meant?"},
		{[]string{"trans"}, "is transcribe meant?"},
		{[]string{"help", "comapre"}, "is compare meant?"},
		{[]string{"sing"}, `unknown command "sing"`},
		{[]string{"transcribe", "x.wav", "--hrap", "A"}, "unknown flag: --hrap; is --harp meant?"},
		{[]string{"transcribe", "x.wav", "--Harp", "A"}, "is --harp meant?"},
		{[]string{"transcribe", "x.wav", "--key", "A"}, "is --song-key meant?"},
		{[]string{"compare", "a", "b", "--score"}, "is --scores meant?"},
		{[]string{"check", "a", "--wobble"}, "unknown flag: --wobble"},
		{[]string{"check", "a", "-q"}, "unknown shorthand flag: 'q' in -q"},
	} {
		code, stdout, stderr := command(c.args...)
		checkTrouble(t, code, stdout, stderr, exitUsage, c.say)
		if line, _, _ := strings.Cut(stderr, "\n"); !strings.HasSuffix(line, c.say) {
			t.Errorf("%v: %q, want %q at the end", c.args, line, c.say)
		}
	}
}
