// Package score measures a transcription against the truth, for tests and
// benchmarks.
//
// [Compare] adds to the notes of package compare what matters for tab: holes,
// breath and bends, textures, phrases, tempo, and whether the stated confidence can
// be believed.
package score

import (
	"math"
	"slices"

	"blowdraw/tabber/compare"
	"blowdraw/tabber/harp"
	"blowdraw/tabber/tab"
)

// Tolerances for phrases (seconds) and tempo (a share), and the confidence from
// which an event counts as sure.
const (
	phraseTolerance = 0.2
	tempoTolerance  = 0.04
	sure            = 0.9
)

// Measures are the scores of one transcription. All but Tuning, Grid, Extra, ExtraSure and
// Level are shares from 0 to 1; a measure that does not apply is NaN, as every F is where
// nothing is played.
type Measures struct {
	NoteF   float64 // F of the notes of all events, by NoOffset
	OffsetF float64 // the same, by WithOffset
	TabF    float64 // F of events: onset within the tolerance and holes, breath and bends all right
	// TextureF is the F of telling one note from several, over events with
	// matching onsets; NaN if the truth has only single notes.
	TextureF float64
	Splits   float64 // of the true splits, the share written with exactly those holes; NaN if there are none
	PhraseF  float64 // F of phrase starts and ends, within 200 ms
	Tempo    float64 // 1 if within 4 % of the true tempo, else 0; NaN if that is unknown
	Tuning   float64 // absolute error of the recording's tuning, cents
	// SureRight is the share that is right, as TabF counts, of the events
	// written with confidence 0.9 or more; NaN if there are none.
	SureRight float64
	SureShare float64 // the share of the written events with that confidence; NaN if none were written
	// Bars is the share of the bar lines written that lie nearer to a true one than to
	// any other beat; NaN if none were written or are known. Barred is 1 if some were.
	Bars, Barred float64
	Grid         float64 // ms, as [Grid] measures the starts; NaN unless somebody has
	Playing      float64 // share of the section's time over which both have a phrase or neither has
	// Extra are the events written while the harp rests, a minute of such time, ExtraSure those
	// of them that are not in doubt; NaN if it rests for less than 5 s.
	Extra, ExtraSure float64
	Level            float64 // absolute error of the harp's level against the band, dB; NaN if it is not known
}

// Compare scores a transcription against the truth, a document with exact
// events, phrases, harp, tuning and tempo. Onsets of notes and events may
// differ by onset seconds (0.05 is usual; 0.1 where the truth was annotated by
// hand).
func Compare(ref, est tab.Document, onset float64) Measures {
	free, full := compare.NoOffset, compare.WithOffset
	free.Onset, full.Onset = onset, onset
	rn, en := compare.NotesOf(ref.Events), compare.NotesOf(est.Events)
	m := Measures{
		NoteF:   compare.Notes(rn, en, free).F,
		OffsetF: compare.Notes(rn, en, full).F,
		PhraseF: phraseF(ref.Phrases, est.Phrases),
		Tempo:   math.NaN(),
		Tuning:  math.Abs(ref.TuningCents - est.TuningCents),
		Bars:    math.NaN(),
		Barred:  math.NaN(),
		Grid:    math.NaN(),
		Playing: playing(ref, est),
		Level:   math.NaN(),
		TabF:    math.NaN(),
	}
	m.Extra, m.ExtraSure = extra(ref, est)
	if len(ref.Events) == 0 {
		m.NoteF, m.OffsetF, m.PhraseF = math.NaN(), math.NaN(), math.NaN()
	}
	if ref.BPM > 0 {
		m.Tempo = 0
		if math.Abs(est.BPM/ref.BPM-1) <= tempoTolerance {
			m.Tempo = 1
		}
	}
	if len(ref.Bars) > 0 {
		m.Bars, m.Barred = bars(ref, est)
	}
	near := func(i, j int) bool { return compare.Within(ref.Events[i].Start, est.Events[j].Start, onset) }
	right := compare.Match(len(ref.Events), len(est.Events), func(i, j int) bool {
		return near(i, j) && compare.SameTab(ref.Harp, ref.Events[i].Actions, est.Events[j].Actions)
	})
	if len(ref.Events) > 0 {
		m.TabF = compare.F1(compare.Count(right), len(ref.Events), len(est.Events))
	}
	m.SureRight, m.SureShare = sureness(est.Events, right)
	m.TextureF, m.Splits = textures(ref.Events, est.Events,
		compare.Match(len(ref.Events), len(est.Events), near))
	return m
}

func sureness(est []tab.Event, right []int) (share, of float64) {
	isRight := map[int]bool{}
	for _, j := range right {
		isRight[j] = true
	}
	n, good := 0, 0
	for j, e := range est {
		if e.Confidence < sure {
			continue
		}
		n++
		if isRight[j] {
			good++
		}
	}
	return ratio(good, n), ratio(n, len(est))
}

// ratio is a/b, or NaN for none of none.
func ratio(a, b int) float64 {
	if b == 0 {
		return math.NaN()
	}
	return float64(a) / float64(b)
}

// textures compares events of several notes, over events whose onsets match.
func textures(ref, est []tab.Event, matched []int) (f, splits float64) {
	both, missed, invented, split, splitRight := 0, 0, 0, 0, 0
	for i, r := range ref {
		var e tab.Event
		if matched[i] >= 0 {
			e = est[matched[i]]
		}
		several, written := len(r.Actions) > 1, len(e.Actions) > 1
		switch {
		case several && written:
			both++
		case several:
			missed++
		case written:
			invented++
		}
		if tab.Texture(r.Actions) == tab.Split {
			split++
			if slices.EqualFunc(r.Actions, e.Actions, func(a, b harp.Action) bool { return a.Hole == b.Hole }) {
				splitRight++
			}
		}
	}
	if f = math.NaN(); both+missed > 0 {
		f = 2 * float64(both) / float64(2*both+missed+invented)
	}
	return f, ratio(splitRight, split)
}

func phraseF(ref, est []tab.Phrase) float64 {
	n := 0
	for _, at := range []func(tab.Phrase) float64{
		func(p tab.Phrase) float64 { return p.Start },
		func(p tab.Phrase) float64 { return p.End },
	} {
		n += compare.Count(compare.Match(len(ref), len(est),
			func(i, j int) bool { return compare.Within(at(ref[i]), at(est[j]), phraseTolerance) }))
	}
	return compare.F1(n, 2*len(ref), 2*len(est))
}
