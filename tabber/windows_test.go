package tabber

import (
	"context"
	"math"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/tab"
)

// In short windows the learned ear's tab is that of one piece: the same notes at the
// same frames. Confidences may differ by some hundredths, since whether a note is an
// octave is weighed against the other notes of its window; by that alone, but for
// thousandths that come of the 5.7 s to either side that the ear looks and misses near a
// join.
func TestWindowsEqualOnePiece(t *testing.T) {
	h := harpOf(t, "A", "richter")
	clip, _ := long(t, h)
	cents := 0.0
	tr, err := NewTranscriber(h, Options{Tuning: &cents})
	if err != nil {
		t.Fatal(err)
	}
	whole := tr.Clip(clip, math.NaN())
	if len(whole.Events) < 100 || whole.To < 40 {
		t.Fatalf("%d events in %g s only", len(whole.Events), whole.To)
	}
	for _, seconds := range []float64{18, 23.3} {
		w := &window{stream: open(t, clip, decode.Options{}), full: int(seconds * pitch.Rate)}
		r, err := tr.stream(context.Background(), w)
		if err != nil {
			t.Fatal(err)
		}
		if len(r.Events) != len(whole.Events) || len(r.Phrases) != len(whole.Phrases) || len(r.Stretches) != len(whole.Stretches) {
			t.Fatalf("windows of %g s: %d events, %d phrases, %d stretches, want %d, %d, %d", seconds,
				len(r.Events), len(r.Phrases), len(r.Stretches), len(whole.Events), len(whole.Phrases), len(whole.Stretches))
		}
		worst := 0.0
		for i, e := range r.Events {
			x := whole.Events[i]
			if tab.Token(e.Actions) != tab.Token(x.Actions) || math.Abs(e.Start-x.Start) > 1e-9 || math.Abs(e.End-x.End) > 1e-9 {
				t.Errorf("windows of %g s: %s from %.3f to %.3f, want %s from %.3f to %.3f", seconds,
					tab.Token(e.Actions), e.Start, e.End, tab.Token(x.Actions), x.Start, x.End)
			}
			worst = max(worst, math.Abs(e.Confidence-x.Confidence))
		}
		if worst > 0.1 || math.Abs(r.Tempo.BPM-whole.Tempo.BPM) > 0.01 {
			t.Errorf("windows of %g s: confidences differ by %.4f, beats a minute by %.4f", seconds, worst, math.Abs(r.Tempo.BPM-whole.Tempo.BPM))
		}
		t.Logf("windows of %g s: confidences differ by %.4f at most, beats a minute by %.4f", seconds, worst, math.Abs(r.Tempo.BPM-whole.Tempo.BPM))
	}
}
