package whichharp

import (
	"cmp"
	"slices"

	"blowdraw/decode"
	"blowdraw/pitch"
)

const (
	blockSeconds = 2
	fadeSamples  = 110 // 5 ms where blocks are joined
)

// blockHops is the length of a block in hops.
const blockHops = blockSeconds * pitch.Rate / pitch.Hop

// liveliest are the blocks of so many samples in which a harp is likeliest to sound,
// seconds long in all: the numbers of their first hops, in order. They are all blocks if
// there are no more. Active tells of each hop.
func liveliest(samples int, active []float64, seconds float64) []int {
	type block struct {
		at  int // hop
		sum float64
	}
	var blocks []block
	for at := 0; at*pitch.Hop < samples; at += blockHops {
		b := block{at: at}
		for i := at; i < min(at+blockHops, len(active)); i++ {
			b.sum += active[i]
		}
		blocks = append(blocks, b)
	}
	if float64(samples) > seconds*pitch.Rate {
		slices.SortStableFunc(blocks, func(a, b block) int { return cmp.Compare(b.sum, a.sum) })
		blocks = blocks[:min(len(blocks), int(seconds/blockSeconds+0.5))]
		slices.SortFunc(blocks, func(a, b block) int { return cmp.Compare(a.at, b.at) })
	}
	var out []int
	for _, b := range blocks {
		out = append(out, b.at)
	}
	return out
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
