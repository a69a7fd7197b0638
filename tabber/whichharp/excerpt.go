package whichharp

import (
	"cmp"
	"math"
	"slices"

	"blowdraw/decode"
	"blowdraw/pitch"

	"gonum.org/v1/gonum/floats"
)

const (
	blockSeconds = 1
	fadeSamples  = 110 // 5 ms where blocks are joined
)

// blockHops is the length of a block in hops.
const blockHops = blockSeconds * pitch.Rate / pitch.Hop

// loud are all but the quietest blocks of a clip, a share of them, but seconds of sound at
// least if there are so many: the numbers of their first hops, in order.
func loud(samples []float64, share, seconds float64) []int {
	var power []float64
	for from := 0; from < len(samples); from += blockHops * pitch.Hop {
		x := samples[from:min(from+blockHops*pitch.Hop, len(samples))]
		power = append(power, floats.Dot(x, x))
	}
	n := math.Ceil(share * float64(len(power)))
	return highest(power, int(max(n, math.Ceil(seconds/blockSeconds))))
}

// liveliest are the blocks of so many samples in which a harp is likeliest to sound,
// seconds long in all: the numbers of their first hops, in order. They are all blocks if
// there are no more. Active tells of each hop.
func liveliest(samples int, active []float64, seconds float64) []int {
	var sounding []float64
	for at := 0; at*pitch.Hop < samples; at += blockHops {
		sounding = append(sounding, floats.Sum(active[min(at, len(active)):min(at+blockHops, len(active))]))
	}
	n := len(sounding)
	if float64(samples) > seconds*pitch.Rate {
		n = int(seconds/blockSeconds + 0.5)
	}
	return highest(sounding, n)
}

// highest are the first hops of the n blocks of which values says most, in order.
func highest(values []float64, n int) []int {
	order := make([]int, len(values))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(values[b], values[a]) })
	order = order[:min(len(order), n)]
	slices.Sort(order)
	for i := range order {
		order[i] *= blockHops
	}
	return order
}

// excerpt is the blocks of a clip that begin with the hops at.
func excerpt(c decode.Clip, at []int) decode.Clip {
	out := decode.Clip{Rate: c.Rate, Start: c.Start}
	for k, hop := range at {
		part := slices.Clone(c.Samples[hop*pitch.Hop : min((hop+blockHops)*pitch.Hop, len(c.Samples))])
		if k > 0 && at[k-1]+blockHops != hop {
			fade(out.Samples[max(0, len(out.Samples)-fadeSamples):], part)
		}
		out.Samples = append(out.Samples, part...)
	}
	return out
}

// blocksOf are the blocks of frames that begin with the hops at.
func blocksOf(f pitch.Frames, at []int) pitch.Frames {
	out := f.Part(0, 0)
	for _, hop := range at {
		out = out.Then(f.Part(hop, min(hop+blockHops, f.N)))
	}
	return out
}

// fade out the end of one block and in the beginning of the next.
func fade(end, begin []float64) {
	for i := range end {
		end[i] *= float64(len(end)-i) / float64(len(end)+1)
	}
	for i := range min(fadeSamples, len(begin)) {
		begin[i] *= float64(i+1) / (fadeSamples + 1)
	}
}
