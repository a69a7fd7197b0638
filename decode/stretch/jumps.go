package stretch

import (
	"math"
	"slices"
)

const (
	blockTime = 0.005 // s
	side      = 4     // blocks before and after that are compared
	jump      = 9.0   // dB
	quiet     = 1e-5  // of the loudest block's power: -50 dB
)

// jumps are the samples where the level rises or falls by more than jump, in
// order and at least apart samples from one another; of those nearer the
// greatest.
func jumps(x []float64, rate, apart int) []int {
	block := max(1, int(blockTime*float64(rate)))
	level := levels(x, block)
	change := func(b int) float64 {
		var before, after float64
		for i := range side {
			before += level[b-1-i] / side
			after += level[b+i] / side
		}
		return math.Abs(after - before)
	}
	type place struct {
		at   int
		size float64
	}
	var found []place
	for b := side; b+side <= len(level); b++ {
		if c := change(b); c > jump {
			found = append(found, place{b * block, c})
		}
	}
	slices.SortStableFunc(found, func(p, q place) int {
		switch {
		case p.size > q.size:
			return -1
		case p.size < q.size:
			return 1
		}
		return 0
	})
	var out []int
	for _, p := range found {
		p.at = middle(x, max(0, p.at-2*side*block), min(len(x), p.at+2*side*block), side*block)
		if slices.ContainsFunc(out, func(q int) bool { return abs(p.at-q) < apart }) {
			continue
		}
		out = append(out, p.at)
	}
	slices.Sort(out)
	return out
}

// levels of the blocks in dB against the loudest.
func levels(x []float64, block int) []float64 {
	power := make([]float64, len(x)/block)
	loudest := 1e-12
	for b := range power {
		for _, v := range x[b*block : (b+1)*block] {
			power[b] += v * v
		}
		loudest = max(loudest, power[b])
	}
	for b := range power {
		power[b] = 10 * math.Log10(power[b]/loudest+quiet)
	}
	return power
}

// middle of a rise or fall between two samples: where the mean magnitude over span
// samples passes halfway from that of the first quarter to that of the last.
func middle(x []float64, from, to, span int) int {
	sum := make([]float64, to-from+1)
	for i, v := range x[from:to] {
		sum[i+1] = sum[i] + math.Abs(v)
	}
	level := func(i, j int) float64 { return (sum[j] - sum[i]) / float64(j-i) }
	n := to - from
	before, after := level(0, n/4), level(n-n/4, n)
	for i := 0; i+span <= n; i++ {
		if now := level(i, i+span); (now > (before+after)/2) == (after > before) {
			return from + i + span/2
		}
	}
	return from + n/2
}
