package score

import (
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

// falseEvents counts the events, a minute, that are more likely right than not
// as they say but sound while no true event does; NaN without a section.
func falseEvents(ref, est tab.Document) float64 {
	n := 0
	for _, e := range est.Events {
		sounds := slices.ContainsFunc(ref.Events,
			func(r tab.Event) bool { return min(e.End, r.End) > max(e.Start, r.Start) })
		if e.Confidence > 0.5 && !sounds {
			n++
		}
	}
	if est.To <= est.From {
		return math.NaN()
	}
	return float64(n) * 60 / (est.To - est.From)
}
