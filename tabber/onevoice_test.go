package tabber

import (
	"bytes"
	"context"
	"math/rand"
	"testing"

	"blowdraw/tabber/render"
	"blowdraw/tabber/tab"
)

// What a transcription doubts, judging its tab doubts for the same reasons; what it writes
// undoubted is not contradicted, unless the line was changed.
func TestOneVoice(t *testing.T) {
	h := harpOf(t, "A", "richter")
	clip, _ := played(h, render.Tuning{Cents: 12}, 5, melody(t, h, lick, lengths))
	r := rand.New(rand.NewSource(1))
	for i := range clip.Samples {
		clip.Samples[i] += 0.05 * r.NormFloat64() // so that something is in doubt
	}
	learned, err := NewTranscriber(h, Options{})
	if err != nil {
		t.Fatal(err)
	}
	var text bytes.Buffer
	if err := tab.WriteText(&text, learned.Clip(clip).Document("a.wav", h, "", nil)); err != nil {
		t.Fatal(err)
	}
	d, err := tab.Parse(&text)
	if err != nil {
		t.Fatal(err)
	}
	again, err := NewTranscriber(h, Options{Written: &d.TuningCents})
	if err != nil {
		t.Fatal(err)
	}
	const changed = 5
	d.Events[changed].Actions = event(h, 0, 0, "9").Actions
	v, err := again.judge(context.Background(), inWindows(t, clip, 60), d.Events)
	if err != nil {
		t.Fatal(err)
	}
	doubtful := 0
	for i, j := range v.Judgements {
		e := d.Events[i]
		if i == changed {
			if j.Same != nil || j.Instead == nil || !j.Doubtful(e) || j.Confidence > 0.2 {
				t.Errorf("changed: %+v", j)
			}
			continue
		}
		if e.Doubtful() {
			doubtful++
		}
		if j.Same == nil || j.Doubtful(e) != e.Doubtful() || d.Doubt(*j.Same) != d.Doubt(e) {
			t.Errorf("%s at %.3f, %q: judged %+v", tab.Token(e.Actions), e.Start, d.Doubt(e), j)
		}
	}
	if len(d.Events) < 20 || doubtful == 0 || len(v.Missed) > 0 {
		t.Errorf("%d events, %d doubtful, missed %v", len(d.Events), doubtful, v.Missed)
	}
}
