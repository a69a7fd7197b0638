package score

import (
	"math"
	"slices"
	"sort"

	"blowdraw/tabber/compare"
	"blowdraw/tabber/tab"
)

// Beats compares beat times in seconds, ascending, with the true ones: the F of
// beats within 70 ms, each being used once (Dixon 2007, "Evaluation of the audio
// beat tracking system BeatRoot").
func Beats(ref, est []float64) float64 {
	const tolerance = 0.07
	matched := compare.Match(len(ref), len(est),
		func(i, j int) bool { return math.Abs(ref[i]-est[j]) <= tolerance })
	return compare.F1(compare.Count(matched), len(ref), len(est))
}

// PScore is how well two beat sequences go together: the correlation of their
// impulse trains, sampled every 10 ms, within a fifth of the median true beat of
// each other, by the number of beats of the longer one (McKinney, Moelants,
// Davies & Klapuri 2007, "Evaluation of audio beat tracking and music tempo
// extraction algorithms"). 0 if either has fewer than two beats.
func PScore(ref, est []float64) float64 {
	const share = 0.2
	if len(ref) < 2 || len(est) < 2 {
		return 0
	}
	first := min(ref[0], est[0])
	r, e := impulses(ref, first), impulses(est, first)
	gaps := make([]int, len(r)-1)
	for i := range gaps {
		gaps[i] = r[i+1] - r[i]
	}
	slices.Sort(gaps)
	n := len(gaps)
	if n == 0 {
		return 0
	}
	reach := int(math.RoundToEven(share * float64(gaps[(n-1)/2]+gaps[n/2]) / 2))
	together, lo := 0, 0
	for _, t := range r {
		for lo < len(e) && e[lo] < t-reach {
			lo++
		}
		for k := lo; k < len(e) && e[k] <= t+reach; k++ {
			together++
		}
	}
	return float64(together) / float64(max(len(ref), len(est)))
}

// impulses are the samples of 10 ms that have a beat, those within one sample
// taken together.
func impulses(beats []float64, first float64) []int {
	out := make([]int, len(beats))
	for i, b := range beats {
		out[i] = int(math.Ceil((b - first) * 100))
	}
	return slices.Compact(out)
}

// bars is how many of the bar lines are right, and 1 if there are any.
func bars(ref, est tab.Document) (right, written float64) {
	if len(est.Bars) == 0 {
		return math.NaN(), 0
	}
	reach := 60 / ref.BPM / 2
	n := 0
	for _, b := range est.Bars {
		if slices.ContainsFunc(ref.Bars, func(r tab.Bar) bool { return math.Abs(r.Start-b.Start) <= reach }) {
			n++
		}
	}
	return float64(n) / float64(len(est.Bars)), 1
}

// Grid is the mean distance in seconds of starts from the nearest third, quarter or
// half of the beats, those between the first and the last; NaN for none.
func Grid(starts, beats []float64) float64 {
	total, n := 0.0, 0
	for _, t := range starts {
		i := sort.SearchFloat64s(beats, t)
		if i == 0 || i == len(beats) {
			continue
		}
		from, length := beats[i-1], beats[i]-beats[i-1]
		best := math.Inf(1)
		for _, part := range []float64{0, 1. / 4, 1. / 3, 1. / 2, 2. / 3, 3. / 4, 1} {
			best = min(best, math.Abs(from+part*length-t))
		}
		total, n = total+best, n+1
	}
	return total / float64(n)
}

// FirstBeat tells whether the first beat of the bar is right: more than half of the bar
// lines written lie within a quarter of a beat of a true first beat, and they stand a
// bar apart (the median distance, to an eighth). True are bars of four beats from
// the first one of ref on, at its tempo. None written is not right.
func FirstBeat(ref, est tab.Document) bool {
	const near, apart = 0.25, 0.125
	if len(ref.Bars) == 0 || len(est.Bars) == 0 {
		return false
	}
	beat := 60 / ref.BPM
	right := 0
	var lengths []float64
	for i, b := range est.Bars {
		if math.Abs(math.Remainder((b.Start-ref.Bars[0].Start)/beat, 4)) < near {
			right++
		}
		if i > 0 {
			lengths = append(lengths, (b.Start-est.Bars[i-1].Start)/(4*beat))
		}
	}
	if len(lengths) > 0 {
		slices.Sort(lengths)
		if math.Abs(lengths[len(lengths)/2]-1) > apart {
			return false
		}
	}
	return 2*right > len(est.Bars)
}
