//go:build long

package phrasing_test

import (
	"testing"

	"blowdraw/tabber"
	"blowdraw/tabber/lab/clips"
)

// Of 420 random solos 10 had a motif by chance, of 2494 returns 2433 were found.
func TestReturnsOfMinutes(t *testing.T) { testReturns(t, []int64{31, 32}, []float64{20, 60, 180}) }

// Solos made to sound, in rooms, on records and through amplifiers, and heard.
func TestReturnsHeard(t *testing.T) {
	var random, returning tally
	for _, back := range []bool{false, true} {
		for _, s := range clips.Solos(33, 14, 30, back) {
			clip, err := s.Sound()
			if err != nil {
				t.Fatal(err)
			}
			tr, err := tabber.NewTranscriber(s.Harp, tabber.Options{})
			if err != nil {
				t.Fatal(err)
			}
			r := tr.Clip(clip)
			d := s.Document()
			d.Events, d.Phrases = r.Events, r.Phrases
			if back {
				returning.count(s, d)
			} else {
				random.count(s, d)
			}
		}
	}
	random.log(t, "random")
	found, there := returning.log(t, "returning")
	if random.wrong > 1 || 10*found < 9*there || 10*returning.wrong > returning.motifs {
		t.Errorf("%d motifs by chance in random solos; %d of %d returns found, %d of %d motifs by chance",
			random.wrong, found, there, returning.wrong, returning.motifs)
	}
}
