package beat

import (
	"cmp"
	"math"
	"slices"
)

// Where between two beats an onset counts as the first third, or as a second
// eighth, swung or not; in beats.
const (
	thirdFrom, thirdTo   = 0.27, 0.40
	eighthFrom, eighthTo = 0.44, 0.78
	leastSwing           = 0.545 // a second eighth earlier than this is straight: a ratio of 1.2
)

// leastOffbeats is the weight of off-beats below which nothing is said of them.
const leastOffbeats = 3

// feel tells how beats are divided, from where begins lie between them, and the
// swing ratio.
func feel(begins []begin, beats []float64) (string, float64) {
	var eighths []begin // time in beats after the beat
	thirds, weight := 0.0, 0.0
	i := 0
	for _, o := range begins {
		for i+1 < len(beats) && beats[i+1] <= o.time {
			i++
		}
		if i+1 >= len(beats) || o.time < beats[i] {
			continue
		}
		x := (o.time - beats[i]) / (beats[i+1] - beats[i])
		switch {
		case x > thirdFrom && x < thirdTo:
			thirds += o.weight
		case x > eighthFrom && x < eighthTo:
			weight += o.weight
			eighths = append(eighths, begin{x, o.weight})
		}
	}
	if weight < leastOffbeats {
		if thirds >= leastOffbeats {
			return Triplet, 0
		}
		return "", 0
	}
	x := weightedMedian(eighths)
	ratio := x / (1 - x)
	switch {
	case x < leastSwing:
		return Straight, ratio
	case thirds > weight/4:
		return Triplet, ratio
	}
	return Swing, ratio
}

// weightedMedian of the times.
func weightedMedian(o []begin) float64 {
	slices.SortFunc(o, func(a, b begin) int { return cmp.Compare(a.time, b.time) })
	total, sum := 0.0, 0.0
	for _, x := range o {
		total += x.weight
	}
	for _, x := range o {
		if sum += x.weight; sum >= total/2 {
			return x.time
		}
	}
	return math.NaN()
}
