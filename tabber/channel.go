package tabber

import (
	"context"
	"math"

	"blowdraw/decode"
	"blowdraw/pitch"
)

const (
	excerpts       = 8
	excerptSeconds = 6.0
	clearer        = 1.03 // times as much harp as in the mix that another channel must have
	sameDB         = -35  // of the side against the mix, below which both channels hold the same
	doubtless      = 0.5  // confidence from which on a note counts for its channel
	leastHarp      = 0.25 // of a second of sure notes, below which nothing is chosen
)

// BestChannel is the channel of a section in which the harp is heard best: the
// mix unless another one is clearly better. Excerpts all over the section are
// heard in every channel; what counts is how long notes of the harp sound, and
// how sure they are.
func (t *Transcriber) BestChannel(ctx context.Context, path string, section decode.Options) (decode.Channel, error) {
	section.Channel = decode.Mix
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
	if same, err := alike(path, parts); same || err != nil {
		return decode.Mix, err
	}
	best, most := decode.Mix, 0.0
	for _, c := range []decode.Channel{decode.Mix, decode.Left, decode.Right, decode.Side} {
		harp, err := t.harpIn(ctx, path, parts, c)
		if err != nil {
			return decode.Mix, err
		}
		if c == decode.Mix {
			most = max(clearer*harp, leastHarp)
		} else if harp > most {
			best, most = c, harp
		}
	}
	return best, nil
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

// alike reports whether both channels hold the same.
func alike(path string, parts []decode.Options) (bool, error) {
	var mix, side float64
	for _, p := range parts {
		for _, c := range []struct {
			channel decode.Channel
			power   *float64
		}{{decode.Mix, &mix}, {decode.Side, &side}} {
			p.Channel = c.channel
			x, _, _, err := decode.Load(path, p)
			if err != nil {
				return false, err
			}
			for _, v := range x.Samples {
				*c.power += v * v
			}
		}
	}
	return side < mix*math.Pow(10, sameDB/10), nil
}

// harpIn is how many seconds of sure harp notes a channel has in the excerpts; a
// note of confidence halfway between doubtless and 1 counts half.
func (t *Transcriber) harpIn(ctx context.Context, path string, parts []decode.Options, c decode.Channel) (float64, error) {
	sum := 0.0
	for _, p := range parts {
		if err := ctx.Err(); err != nil {
			return 0, err
		}
		p.Channel, p.Rate = c, pitch.Rate
		clip, _, _, err := decode.Load(path, p)
		if err != nil {
			return 0, err
		}
		for _, e := range t.Clip(clip, math.NaN()).Events {
			sum += (e.End - e.Start) * max(0, e.Confidence-doubtless) / (1 - doubtless)
		}
	}
	return sum, nil
}
