package tabber

import (
	"context"
	"math"
	"slices"
	"testing"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/hearing"
	"blowdraw/tabber/lab/clips"
	"blowdraw/tabber/tab"
)

// equalWithin is by how much a figure may differ that is reckoned from times counted
// from elsewhere.
const equalWithin = 1e-9

// inWindows opens a clip again, to be heard in windows of so many seconds.
func inWindows(t *testing.T, c decode.Clip, seconds float64) *hearing.Section {
	return hearing.StreamBy(open(t, c, decode.Options{}), 0, nil, seconds)
}

// In short windows the learned ear's tab is that of one piece: the same notes at the
// same frames, as sure, with the same marks. So is what is said of a written tab.
func TestWindowsEqualOnePiece(t *testing.T) {
	slurred, _ := long(t, harpOf(t, "A", "richter"))
	pairs, err := clips.Pairs(clips.Octaves, clips.Rendered, 8, 1)
	if err != nil {
		t.Fatal(err)
	}
	octaves := pairs[0]
	cents := 0.0
	for _, c := range []struct {
		name  string
		tr    *Transcriber
		clip  decode.Clip
		least int // events
	}{
		{"long", transcriberOf(t, harpOf(t, "A", "richter"), Options{Tuning: &cents}), slurred, 100},
		{"octaves", transcriberOf(t, octaves.Harp, Options{Tuning: &cents}), decode.Clip{Rate: pitch.Rate, Samples: octaves.Samples}, 15},
	} {
		if !thorough && c.name == "long" {
			continue
		}
		ctx := context.Background()
		const once = 1000
		whole, err := c.tr.transcribe(ctx, 0, inWindows(t, c.clip, once))
		if err != nil {
			t.Fatal(err)
		}
		if len(whole.Events) < c.least || whole.To < 36 {
			t.Fatalf("%s: %d events in %g s only", c.name, len(whole.Events), whole.To)
		}
		verdict, err := c.tr.judge(ctx, inWindows(t, c.clip, once), whole.Events)
		if err != nil {
			t.Fatal(err)
		}
		lengths := []float64{33.3, 30}
		if !thorough {
			lengths = lengths[:1]
		}
		for _, seconds := range lengths {
			got, err := c.tr.transcribe(ctx, 0, inWindows(t, c.clip, seconds))
			if err != nil {
				t.Fatal(err)
			}
			sameResult(t, c.name, seconds, got, whole)
			again, err := c.tr.judge(ctx, inWindows(t, c.clip, seconds), whole.Events)
			if err != nil {
				t.Fatal(err)
			}
			for i, j := range again.Judgements {
				if x := verdict.Judgements[i]; !(math.Abs(j.Confidence-x.Confidence) < equalWithin && math.Abs(j.Sounds-x.Sounds) < equalWithin) {
					t.Errorf(
						"%s in windows of %g s: event %d is judged %.12f, want %.12f",
						c.name,
						seconds,
						i,
						j.Confidence,
						x.Confidence,
					)
				}
			}
			if len(again.Missed) != len(verdict.Missed) {
				t.Errorf(
					"%s in windows of %g s: %d events missed, want %d",
					c.name,
					seconds,
					len(again.Missed),
					len(verdict.Missed),
				)
			}
		}
	}
}

func transcriberOf(t *testing.T, h harp.Harp, opt Options) *Transcriber {
	t.Helper()
	tr, err := NewTranscriber(h, opt)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

func sameResult(t *testing.T, name string, seconds float64, got, want Result) {
	t.Helper()
	if len(got.Events) != len(want.Events) || len(got.Phrases) != len(want.Phrases) ||
		len(got.Stretches) != len(want.Stretches) {
		t.Fatalf(
			"%s in windows of %g s: %d events, %d phrases, %d stretches, want %d, %d, %d",
			name,
			seconds,
			len(
				got.Events,
			),
			len(got.Phrases),
			len(got.Stretches),
			len(want.Events),
			len(want.Phrases),
			len(want.Stretches),
		)
	}
	worst := 0.0
	for i, e := range got.Events {
		x := want.Events[i]
		if tab.Token(e.Actions) != tab.Token(x.Actions) || math.Abs(e.Start-x.Start) > equalWithin ||
			math.Abs(e.End-x.End) > equalWithin {
			t.Errorf("%s in windows of %g s: %s from %.3f to %.3f, want %s from %.3f to %.3f", name, seconds,
				tab.Token(e.Actions), e.Start, e.End, tab.Token(x.Actions), x.Start, x.End)
		}
		worst = max(worst, math.Abs(e.Confidence-x.Confidence), math.Abs(e.Loudness-x.Loudness))
		if !slices.EqualFunc(e.Marks, x.Marks, sameMark) || e.Join != x.Join ||
			!slices.EqualFunc(e.Alternatives, x.Alternatives, sameReading) {
			t.Errorf(
				"%s in windows of %g s: %s at %.3f has marks %v %v and may be %v, want %v %v and %v",
				name,
				seconds,
				tab.Token(e.Actions),
				e.Start,
				e.Marks,
				e.Join,
				e.Alternatives,
				x.Marks,
				x.Join,
				x.Alternatives,
			)
		}
	}
	if !(worst < equalWithin && math.Abs(got.Tempo.BPM-want.Tempo.BPM) < equalWithin) {
		t.Errorf(
			"%s in windows of %g s: confidences and levels differ by %.3g, beats a minute by %.3g",
			name,
			seconds,
			worst,
			math.Abs(got.Tempo.BPM-want.Tempo.BPM),
		)
	}
	t.Logf("%s in windows of %g s: confidences and levels differ by %.3g at most", name, seconds, worst)
}

func sameMark(a, b tab.Mark) bool {
	return a.Name == b.Name && math.Abs(a.Cents-b.Cents)+math.Abs(a.Seconds-b.Seconds)+math.Abs(a.Hz-b.Hz)+
		math.Abs(a.DB-b.DB)+math.Abs(a.Confidence-b.Confidence) < equalWithin
}

func sameReading(a, b tab.Alternative) bool {
	return slices.Equal(a.Actions, b.Actions) && math.Abs(a.Confidence-b.Confidence) < equalWithin
}
