package score

import (
	"cmp"
	"math"
	"slices"

	"blowdraw/tabber/tab"
)

// playing is the share of the section over which truth and transcription agree
// whether the harp plays, a phrase being one stretch; NaN without a section.
func playing(ref, est tab.Document) float64 {
	length := est.To - est.From
	if length <= 0 {
		return math.NaN()
	}
	cuts := []float64{est.From, est.To}
	for _, p := range slices.Concat(ref.Phrases, est.Phrases) {
		cuts = append(cuts, min(max(p.Start, est.From), est.To), min(max(p.End, est.From), est.To))
	}
	slices.Sort(cuts)
	agreed := 0.0
	for i := 1; i < len(cuts); i++ {
		mid := (cuts[i-1] + cuts[i]) / 2
		if inPhrase(ref.Phrases, mid) == inPhrase(est.Phrases, mid) {
			agreed += cuts[i] - cuts[i-1]
		}
	}
	return agreed / length
}

func inPhrase(phrases []tab.Phrase, t float64) bool {
	return slices.ContainsFunc(phrases, func(p tab.Phrase) bool { return t >= p.Start && t < p.End })
}

const (
	restMargin = 0.3 // s from a true phrase up to which its echo may be written
	leastRest  = 5.0 // s of rest from which on events in them are counted
)

// extra counts the events, a minute of the section's time that lies restMargin seconds and
// more from every true phrase, that are written there (by their middle), and those of them
// that are not in doubt; NaN where that is less than leastRest seconds.
func extra(ref, est tab.Document) (all, undoubted float64) {
	near := make([]tab.Phrase, len(ref.Phrases))
	for i, p := range ref.Phrases {
		near[i] = tab.Phrase{Start: p.Start - restMargin, End: p.End + restMargin}
	}
	rest := lengthOutside(near, est.From, est.To)
	if rest < leastRest {
		return math.NaN(), math.NaN()
	}
	for _, e := range est.Events {
		if inPhrase(near, (e.Start+e.End)/2) {
			continue
		}
		all++
		if !e.Doubtful() {
			undoubted++
		}
	}
	return all * 60 / rest, undoubted * 60 / rest
}

// lengthOutside is how many seconds of a section lie in no phrase. Phrases may overlap.
func lengthOutside(phrases []tab.Phrase, from, to float64) float64 {
	byStart := slices.SortedFunc(slices.Values(phrases),
		func(a, b tab.Phrase) int { return cmp.Compare(a.Start, b.Start) })
	sum, at := 0.0, from
	for _, p := range byStart {
		sum += max(0, min(p.Start, to)-at)
		at = max(at, p.End)
	}
	return sum + max(0, to-at)
}
