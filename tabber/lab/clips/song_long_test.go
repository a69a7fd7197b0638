//go:build long

package clips

import (
	"math"
	"slices"
	"testing"

	"blowdraw/tabber/lab/truth"
	"blowdraw/tabber/render/effect"
	"blowdraw/tabber/tab"
)

// Songs of five kinds, of one sound bank, measured once.
func TestSongs(t *testing.T) {
	b := needBank(t)
	song := func(t *testing.T, kind string, i int) Song {
		s, err := makeSong(b, kind, i, 5, BankPath)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	t.Run("answer", func(t *testing.T) { checkAnswer(t, song(t, "answer", 0), song(t, "answer", 0)) })
	t.Run("panned", func(t *testing.T) { checkPanned(t, song(t, panned, 1)) })
	t.Run("centred", func(t *testing.T) { checkCentred(t, song(t, centred, 1), song(t, panned, 1)) })
	t.Run("worn", func(t *testing.T) { checkWorn(t, song(t, "worn", 0)) })
	t.Run("others", func(t *testing.T) { checkOthers(t, song(t, "others", 0)) })
}

// No harp plays, but several others do, one after the other without a gap.
func checkOthers(t *testing.T, s Song) {
	kinds := map[string]bool{}
	for i, p := range s.Parts {
		kinds[p.Kind] = true
		if i > 0 && p.Start != s.Parts[i-1].End {
			t.Errorf("part %d begins at %.2f s, the one before ends at %.2f s", i+1, p.Start, s.Parts[i-1].End)
		}
		if level := effect.RMS(s.Left[int(p.Start*Rate):int(p.End*Rate)]); level < 0.01 {
			t.Errorf("the %s has a level of %.4f", p.Kind, level)
		}
	}
	if len(s.Events) > 0 || kinds[Harp] || len(kinds) < 3 {
		t.Errorf("%d notes of a harp, and %v play", len(s.Events), kinds)
	}
}

// The harp plays in its parts only, the truth lies within the sound, and the
// same seed gives the same song.
func checkAnswer(t *testing.T, a, b Song) {
	if !slices.Equal(a.Left, b.Left) {
		t.Error("the same seed gave two songs")
	}
	for _, e := range a.Events {
		inside := slices.ContainsFunc(a.Parts, func(p truth.Part) bool {
			return p.Kind == Harp &&
				e.Start >= p.Start && e.End <= p.End+0.1
		})
		if !inside {
			t.Errorf("the harp plays from %.2f to %.2f, in no part of its own", e.Start, e.End)
		}
	}
	if len(a.Events) < 10 || len(a.Left) != int(a.seconds()*Rate) || a.Right != nil {
		t.Errorf("%d events in %d samples", len(a.Events), len(a.Left))
	}
}

// In the mean of both channels the harp is 6 dB below the rest: measured where
// the band is alike on both sides, which leaves the harp alone in the side.
func checkPanned(t *testing.T, s Song) {
	n := len(s.Left)
	side := make([]float64, n)
	for i := range side {
		side[i] = (s.Left[i] - s.Right[i]) / 2
	}
	if intro := 2 * Rate; effect.RMS(side[:intro]) > 1e-3 {
		t.Fatalf("the band of %s is not in the middle: choose another seed", s.Name)
	}
	band := s.Left // the channel without the harp
	if effect.RMS(s.Right) < effect.RMS(s.Left) {
		band = s.Right
	}
	if db := 20 * math.Log10(sounding(s, side)/effect.RMS(band)); math.Abs(db+6) > 1.5 {
		t.Errorf("%s: the harp is at %.1f dB, want -6", s.Name, db)
	}
}

// A centred song is a panned one again, in one channel, and with the harp 6 dB above the
// band: with the bands equally loud, what sets both apart is the harp alone.
func checkCentred(t *testing.T, s, side Song) {
	if !slices.EqualFunc(s.Events, side.Events,
		func(a, b tab.Event) bool { return a.Start == b.Start && slices.Equal(a.Actions, b.Actions) }) {
		t.Errorf("%s and %s are not the same playing", s.Name, side.Name)
	}
	if s.Right != nil {
		t.Errorf("%s has two channels", s.Name)
	}
	mix := make([]float64, len(side.Left))
	for i := range mix {
		mix[i] = (side.Left[i] + side.Right[i]) / 2
	}
	intro := 2 * Rate // only the band plays
	equal := effect.RMS(s.Left[:intro]) / effect.RMS(mix[:intro])
	const above, below = 1.9953, 0.5012 // 6 dB either way
	harp, band := make([]float64, len(mix)), make([]float64, len(mix))
	for i := range mix {
		harp[i] = (s.Left[i] - equal*mix[i]) * above / (above - below)
		band[i] = s.Left[i] - harp[i]
	}
	if db := 20 * math.Log10(sounding(s, harp)/effect.RMS(band)); math.Abs(db-6) > 1 {
		t.Errorf("%s: the harp is at %.1f dB, want 6", s.Name, db)
	}
}

// sounding is the level of x while the harp plays.
func sounding(s Song, x []float64) float64 {
	var played []float64
	for _, e := range s.Events {
		played = append(played, x[int(e.Start*Rate):int(e.End*Rate)]...)
	}
	return effect.RMS(played)
}

// A worn record runs fast or slow by what the truth says.
func checkWorn(t *testing.T, s Song) {
	if math.Abs(s.Cents) > 100 || s.Cents == 0 {
		t.Errorf("%.1f cents off, want up to a semitone", s.Cents)
	}
	if last := s.Parts[len(s.Parts)-1].End; math.Abs(last-float64(len(s.Left))/Rate) > 0.01 {
		t.Errorf("the parts end at %.2f s, the sound at %.2f s", last, float64(len(s.Left))/Rate)
	}
}
