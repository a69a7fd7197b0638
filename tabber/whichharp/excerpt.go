package whichharp

import (
	"cmp"
	"slices"

	"blowdraw/decode"
	"blowdraw/pitch"
)

const (
	blockSeconds = 2.0
	fadeSamples  = 110 // 5 ms where blocks are joined
)

// excerpt is the blocks of a clip in which a harp is likeliest to sound, seconds
// long and in their order; all of it if it is no longer. Active tells of each hop.
func excerpt(c decode.Clip, active []float64, seconds float64) decode.Clip {
	size := int(blockSeconds*pitch.Rate) / pitch.Hop * pitch.Hop
	if float64(len(c.Samples)) <= seconds*pitch.Rate {
		return c
	}
	type block struct {
		at  int // sample
		sum float64
	}
	var blocks []block
	for at := 0; at < len(c.Samples); at += size {
		b := block{at: at}
		for i := at / pitch.Hop; i < min((at+size)/pitch.Hop, len(active)); i++ {
			b.sum += active[i]
		}
		blocks = append(blocks, b)
	}
	slices.SortStableFunc(blocks, func(a, b block) int { return cmp.Compare(b.sum, a.sum) })
	blocks = blocks[:min(len(blocks), int(seconds/blockSeconds+0.5))]
	slices.SortFunc(blocks, func(a, b block) int { return cmp.Compare(a.at, b.at) })
	out := decode.Clip{Rate: c.Rate, Start: c.Start}
	last := -1
	for _, b := range blocks {
		part := slices.Clone(c.Samples[b.at:min(b.at+size, len(c.Samples))])
		if b.at != last && last >= 0 {
			fade(out.Samples[max(0, len(out.Samples)-fadeSamples):], part)
		}
		last = b.at + size
		out.Samples = append(out.Samples, part...)
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
