// Package channel finds the channel of a stereo recording in which a harp is heard best.
//
// Of records on which harp and band stand in different places, one channel, the side, or
// one channel less what the other tells of it (gain scaling and cancellation: Barry,
// Lawlor & Coyle 2004, "Sound source separation: azimuth discrimination and resynthesis",
// DAFx; from memory) has less of the band than the mix.
//
// What is taken away is one share of the other channel (crosstalk.go), sample by sample:
// windows, sections and one piece agree to the bit, and the name of the channel in a tab's
// header is all that is needed to hear it again. The constants were chosen on panned songs
// of seeds 6001 to 6003 and 5003 and stereo songs of seeds 6001 and 6002
// (blowdraw-lab make --songs).
package channel

import (
	"context"
	"math"

	"blowdraw/decode"
	"blowdraw/pitch"
	"blowdraw/tabber/tab"
)

const (
	excerpts       = 8
	excerptSeconds = 6.0
	mixFirst       = 1.01 // by how much the mix's notes count more
	lessFirst      = 1.02 // by how much those of a channel less the other do
	sameDB         = -35  // of the side against the mix, below which both channels hold the same
	doubtless      = 0.5  // confidence from which on a note counts for its channel
	leastHarp      = 0.3  // seconds of sure notes, below which nothing is chosen
	leastLess      = 0.03 // of the other channel that is worth taking away
	mostLess       = 4.0
	likeSide       = 0.02 // how far from 1 the share must be, which gives the side
)

// Best is the channel of a section in which the harp is heard best.
// Excerpts all over the section are heard in the mix, left, right, the side, and
// the one of left and right that has more harp less what the other tells of it;
// what counts is for how long notes of the harp sound, and how sure they are. Events are those
// that are heard in a clip, mono at pitch.Rate. It is an error if an excerpt cannot be
// read, or if the context is done.
func Best(
	ctx context.Context,
	path string,
	section decode.Options,
	events func(decode.Clip) []tab.Event,
) (decode.Channel, error) {
	section.Channel, section.Rate = decode.Mix, pitch.Rate
	s, err := decode.Open(path, section)
	if err != nil {
		return decode.Mix, err
	}
	info := s.Info()
	s.Close()
	if info.Channels != 2 {
		return decode.Mix, nil
	}
	parts := spread(section, info.Duration)
	both, err := bothChannels(ctx, path, parts)
	if err != nil || len(both.a) == 0 {
		return decode.Mix, err
	}
	best, most := decode.Mix, leastHarp
	hear := func(c decode.Channel, first float64) (float64, error) {
		harp, err := harpIn(ctx, path, parts, c, events)
		if harp *= first; harp > most {
			best, most = c, harp
		}
		return harp, err
	}
	var harp [3]float64
	for i, c := range []decode.Channel{decode.Left, decode.Right, decode.Side} {
		if harp[i], err = hear(c, 1); err != nil {
			return decode.Mix, err
		}
	}
	if c, ok := both.less(harp[0] > harp[1]); ok {
		if _, err = hear(c, lessFirst); err != nil {
			return decode.Mix, err
		}
	}
	if _, err = hear(decode.Mix, mixFirst); err != nil {
		return decode.Mix, err
	}
	return best, nil
}

// less is the left channel less what the right tells of it, or the right less the
// left; ok is false if that is little, or much the same as another channel.
func (x bins) less(left bool) (c decode.Channel, ok bool) {
	kept := decode.LeftLess
	if !left {
		x, kept = x.swapped(), decode.RightLess
	}
	g := x.gain()
	return kept(g), g >= leastLess && g <= mostLess && math.Abs(g-1) >= likeSide
}

// spread are excerpts of a section, evenly; all of it if it is short or of
// unknown length.
func spread(section decode.Options, duration float64) []decode.Options {
	to := section.To
	if to <= 0 || duration > 0 && to > duration {
		to = duration
	}
	length := to - section.From
	if length <= excerpts*excerptSeconds {
		if to <= 0 {
			section.To = section.From + excerpts*excerptSeconds
		}
		return []decode.Options{section}
	}
	var out []decode.Options
	for i := range excerpts {
		part := section
		part.From = section.From + (float64(i)+0.5)*length/excerpts - excerptSeconds/2
		part.To = part.From + excerptSeconds
		out = append(out, part)
	}
	return out
}

// bothChannels are the spectra of the excerpts in which the channels do not hold
// the same; none if they do all over.
func bothChannels(ctx context.Context, path string, parts []decode.Options) (bins, error) {
	out := newBins()
	var mix, side float64
	for _, p := range parts {
		var x [2]decode.Clip
		for i, c := range []decode.Channel{decode.Left, decode.Right} {
			if err := ctx.Err(); err != nil {
				return out, err
			}
			var err error
			p.Channel = c
			if x[i], _, _, err = decode.Load(path, p); err != nil {
				return out, err
			}
		}
		m, s := midSide(x[0].Samples, x[1].Samples)
		mix, side = mix+m, side+s
		if !alike(m, s) {
			out.add(x[0].Samples, x[1].Samples)
		}
	}
	if alike(mix, side) {
		return newBins(), nil
	}
	return out, nil
}

// midSide are the energies of the mean and of half the difference of two channels.
func midSide(left, right []float64) (mix, side float64) {
	for i, l := range left[:min(len(left), len(right))] {
		m, s := (l+right[i])/2, (l-right[i])/2
		mix, side = mix+m*m, side+s*s
	}
	return mix, side
}

// alike reports whether channels with these energies hold the same.
func alike(mix, side float64) bool { return side <= mix*math.Pow(10, sameDB/10.0) }

// harpIn is for how many seconds sure notes of the harp sound in the excerpts of a channel;
// one of confidence halfway between doubtless and 1 counts half. (Their number would grow
// where noise breaks notes up.)
func harpIn(
	ctx context.Context,
	path string,
	parts []decode.Options,
	c decode.Channel,
	events func(decode.Clip) []tab.Event,
) (float64, error) {
	sum := 0.0
	for _, p := range parts {
		if err := ctx.Err(); err != nil {
			return 0, err
		}
		p.Channel = c
		clip, _, _, err := decode.Load(path, p)
		if err != nil {
			return 0, err
		}
		for _, e := range events(clip) {
			sum += (e.End - e.Start) * max(0, e.Confidence-doubtless) / (1 - doubtless)
		}
	}
	return sum, nil
}
