//go:build long

package tabber

import (
	"math"
	"testing"

	"blowdraw/decode"
	"blowdraw/decode/programs"
	"blowdraw/pitch"
	"blowdraw/tabber/lab/clips"
	"blowdraw/tabber/lab/score"
	"blowdraw/tabber/tab"
)

// Floors of the mean scores over a category's clips, a little below what is
// measured (lab/RESULTS.md): a change that costs more than noise fails here.
const (
	noteFloor = 0.92
	tabFloor  = 0.88
	sureFloor = 0.93

	vibratoFloor = 0.85 // F over all clips,
	scoopFloor   = 0.42
	rateFloor    = 0.3  // Hz, median error, and
	extentFloor  = 0.25 // share
)

// The hard set's notes come from a sound bank and a synthesizer that the ear was
// not trained on.
func TestHardSet(t *testing.T) {
	sure, of := 0.0, 0.0
	var vibrato, scoop score.MarkScore
	for _, category := range []string{"held", "low", "layout", "fast", "double"} {
		made, err := clips.Clips(category, 99)
		programs.Check(t, err, clips.ErrMissing)
		var notes, tabs float64
		for _, c := range made {
			r := hear(t, c)
			m := scoreClip(c, r)
			vibrato.Add(score.Marks(c.Events, r.Events, tab.Vibrato, 0.05))
			scoop.Add(score.Marks(c.Events, r.Events, tab.Scoop, 0.05))
			notes += m.NoteF / float64(len(made))
			tabs += m.TabF / float64(len(made))
			if !math.IsNaN(m.SureRight) {
				sure, of = sure+m.SureRight, of+1
			}
		}
		t.Logf("%-8s noteF %.3f tabF %.3f", category, notes, tabs)
		if notes < noteFloor || tabs < tabFloor {
			t.Errorf(
				"%s: noteF %.3f, tabF %.3f, want at least %.2f and %.2f",
				category,
				notes,
				tabs,
				noteFloor,
				tabFloor,
			)
		}
	}
	rate, extent := pitch.Median(vibrato.Rate), pitch.Median(vibrato.Extent)
	if t.Logf("vibrato F %.3f, off by %.2f Hz and %.2f of its cents; scoop F %.3f", vibrato.F(), rate, extent, scoop.F()); vibrato.F() < vibratoFloor ||
		scoop.F() < scoopFloor ||
		rate > rateFloor ||
		extent > extentFloor {
		t.Errorf(
			"want vibrato F %.2f, scoop F %.2f, at most %.2f Hz and %.2f off",
			vibratoFloor,
			scoopFloor,
			rateFloor,
			extentFloor,
		)
	}
	if sure/of < sureFloor {
		t.Errorf("of the events that say 0.9 or more %.3f are right, want at least %.2f", sure/of, sureFloor)
	}
}

func hear(t *testing.T, c clips.Clip) Result {
	t.Helper()
	tr, err := NewTranscriber(c.Harp, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return tr.Clip(decode.Clip{Rate: clips.Rate, Samples: c.Samples})
}

func scoreClip(c clips.Clip, r Result) score.Measures {
	ref := tab.Document{Harp: c.Harp, Events: c.Events, Phrases: c.Phrases}
	est := tab.Document{Harp: c.Harp, Events: r.Events, Phrases: r.Phrases}
	return score.Compare(ref, est, 0.05)
}
